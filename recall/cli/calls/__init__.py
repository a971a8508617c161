"""Commands of the day's calls: lists, contacts, bookings."""
