"""Commands about referrals."""
