"""Makes the demo's invented practice: the same files from the same seed, with no network.

Nobody and nothing in it is real. Phone numbers are from the ranges that Ofcom keeps
for drama, NHS numbers from the 999 test range, e-mail addresses at example.org.
"""

from datetime import date

DEMO_DAY = date(2026, 9, 7)
"""The Monday on which the demo is set: the last day that the practice's files know."""
FIRST_DAY = date(2023, 9, 11)
SEED = 20260907
