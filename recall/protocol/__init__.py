"""Rules as data: loading, matching, checking, sign-off. Pure."""
