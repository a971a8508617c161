"""Commands of the manager: decisions, failsafe, report."""
