"""Files in: people, visits, contacts and bookings become rows."""
