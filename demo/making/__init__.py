"""Makes the demo's invented practice: the same files from the same seed, with no network.

Nobody and nothing in it is real. Phone numbers are from the ranges that Ofcom keeps
for drama, NHS numbers from the 999 test range, e-mail addresses at example.org.
"""

from datetime import date, timedelta

DEMO_DAY = date(2027, 3, 8)
"""The Monday for which the files are written: the last day that they know. Whoever lays them out
moves them to the day on which that is done."""
WENT_LIVE = DEMO_DAY - timedelta(weeks=6)
"""The day from which on the practice works with this register."""
GIVEN_UP_FROM, GIVEN_UP_TO = WENT_LIVE + timedelta(days=4), DEMO_DAY - timedelta(days=20)
"""Who should have come by a day in between may be lost on the first morning: asked for since the
practice went live, so long ago that everything was tried, and still so on another weekday."""
LOST = 4
"""So many of them were looked for in every way."""
FIRST_DAY = DEMO_DAY - timedelta(weeks=156)
SEED = 20260907
