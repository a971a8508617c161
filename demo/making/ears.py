"""What is found in one ear on one day, in the words of the case file."""

import random
from datetime import date, timedelta

SIDES = ("right", "left")


class Wax:
    """One person's wax: how fast it grows back in them, and when each ear was last clear."""

    def __init__(self, rng: random.Random, start: date, middle_months: float) -> None:
        self.rng = rng
        self.middle = middle_months * 30.4 * rng.lognormvariate(0, 0.3)
        self.back_on = {side: start - timedelta(days=rng.randint(-200, 90)) for side in SIDES}
        self.failed = dict.fromkeys(SIDES, 0)

    def look(self, side: str, day: date, fails: float = 0.06) -> dict:
        """Return the wax fields of one ear and whether the drum came into view."""
        rng = self.rng
        if day < self.back_on[side]:
            found = "some" if rng.random() < 0.4 else "none"
            return {"wax_found": found, "wax_left": found, "drum_seen": "full"}
        found = "occluding" if rng.random() < 0.65 or self.failed[side] else "partial"
        if rng.random() < (0.25 if self.failed[side] else fails):
            return self.stays(side, found)
        self.failed[side] = 0
        self.back_on[side] = day + timedelta(days=int(self.middle * rng.weibullvariate(1.1, 2.2)))
        left = "some" if rng.random() < 0.15 else "none"
        return {"wax_found": found, "clearance": "cleared", "wax_left": left, "drum_seen": "full"}

    def stays(self, side: str, found: str) -> dict:
        """Return an ear that could not be cleared this time."""
        self.failed[side] += 1
        fields = {
            "wax_found": found,
            "clearance": "failed",
            "clearance_tries": self.rng.randint(1, 2),
            "wax_left": found,
            "drum_seen": "none" if found == "occluding" else "part",
        }
        if self.failed[side] > 1:
            fields["hearing_after"] = "same"
        return fields


def hearing(rng: random.Random, level: float, slope: float = 0.0, wide: bool = False) -> dict:
    """Return hearing levels around `level` dB, falling by `slope` dB an octave, in steps of 5."""
    frequencies = (
        ("250", "500", "1000", "2000", "4000", "8000") if wide else ("500", "1000", "2000", "4000")
    )
    middle = frequencies.index("1000")
    levels = {}
    for place, frequency in enumerate(frequencies):
        value = level + slope * (place - middle) + rng.gauss(0, 3)
        levels[frequency] = max(-10, min(120, int(5 * round(value / 5))))
    return levels


def trace(rng: random.Random, fluid: bool, child: bool = True) -> dict:
    """Return a tympanogram that goes with fluid or without."""
    volume = round(rng.uniform(0.4, 0.9) if child else rng.uniform(0.8, 1.8), 2)
    if fluid:
        return {"type": "B"} if rng.random() < 0.3 else {"flat": True, "volume_ml": volume}
    peak = rng.choice((-160, -95, -60, -30, -20, -10, 0, 10))
    return {
        "peak_daPa": peak,
        "compliance_ml": round(rng.uniform(0.35, 1.2), 2),
        "volume_ml": volume,
    }


def leave_out(rng: random.Random, ear: dict, *fields: str, share: float = 0.3) -> dict:
    """Forget some fields, as people who write do."""
    return {f: v for f, v in ear.items() if f not in fields or rng.random() > share}
