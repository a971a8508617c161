"""Contact steps, referral stages, standing on a day. Pure."""
