"""Oversight: the failsafe, the report, the manager's lists, notices."""
