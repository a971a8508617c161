"""Oversight: the failsafe, the report, the manager's lists, notices, and learning.

Learning is what a rule asked for and found (`rule_audit`), and what other rules would have made of
the register (`what_if`).
"""
