"""Referrals from sent to result back, and letters to colleagues."""
