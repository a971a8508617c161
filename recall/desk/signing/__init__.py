"""Signing in: passwords, sessions, accounts of the operating system, and who looked."""
