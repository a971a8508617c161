"""Reaching people: contacts, appointments, contact points, and when contact is stopped."""
