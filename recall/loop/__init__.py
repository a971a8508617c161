"""Contact steps, referral stages, status on a day, the day.s list. Pure."""
