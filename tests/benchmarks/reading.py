"""How fast files are read, as a ratio to a floor in the same run. Run by hand.

    python tests/benchmarks/reading.py [ROWS]

The floor parses the same file with the csv module and validates the same cells
with the same libraries, each value as often as it stands there, and nothing else.
Ours remembers values that come again (families, days), within a run only.
Memory is the peak of reading row by row, as Python's own allocator counts it.
"""

from __future__ import annotations

import csv
import itertools
import random
import re
import statistics
import sys
import tempfile
import time
import tracemalloc
from datetime import date, datetime
from pathlib import Path

import msgspec
import phonenumbers
from email_validator import EmailNotValidError, validate_email
from stdnum.gb import nhs

from recall.care.ear import Ear
from recall.config import Import
from recall.exchange import identifiers
from recall.exchange.cells import parse_day
from recall.exchange.people_in import read_people
from recall.exchange.visits_in import read_visits

TODAY = date(2026, 11, 25)
POSTCODE = re.compile("[A-Z]{1,2}[0-9][0-9A-Z]? ?[0-9][A-Z]{2}")
PEOPLE_HEADINGS = (
    *("reference", "given_name", "family_name", "born", "nhs_number", "address_1"),
    *("postcode", "phone", "email", "risks"),
)


def write_people(path: Path, rows: int) -> None:
    """Write invented people; a quarter share a phone and postcode with the row before."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(PEOPLE_HEADINGS)
        for n in range(rows):
            home = n - n % 4
            born = f"{n % 28 + 1:02d}/{n % 12 + 1:02d}/{1930 + n % 95}"
            body = f"999{n % 1000000:06d}"
            number = next((f"{body}{d}" for d in range(10) if nhs.is_valid(f"{body}{d}")), "")
            code = f"WF{home % 90 + 10} {home % 10}{'ABDEFGHJLN'[home // 90 % 10]}A"
            phone = f"07700 900{home % 1000:03d}"
            risk = "diabetes" if n % 5 == 0 else ""
            row = (f"P{n}", "Ann", f"Lée {n}", born, number, f"{n} Mill Lane", code, phone)
            out.writerow((*row, f"p{n}@example.org", risk))


HEADS = ("wax_found", "wax_left", "clearance", "drum_seen", "effusion", "tensa_grade")
FINDINGS = [
    (found, "" if found == "none" else "none", "" if found == "none" else "cleared", *seen)
    for found in ("none", "partial", "occluding")
    for seen in itertools.product(("full", "part"), ("present", "suspected", "absent", ""),
                                  ("", "0", "1", "2", "3"))
]  # fmt: skip
"""What an ear holds, each as often as the other: 120 ways, 14,400 of both ears."""


def write_visits(path: Path, rows: int) -> None:
    """Write invented visits with up to a dozen findings each."""
    drawn = random.Random(7)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(
            ["reference", "person", "on", "examiner"]
            + [f"{side}_{h}" for side in ("right", "left") for h in HEADS]
        )
        for n in range(rows):
            on = f"{n % 28 + 1:02d}/{n % 12 + 1:02d}/{2023 + n % 3}"
            ears = drawn.choice(FINDINGS) + drawn.choice(FINDINGS)
            out.writerow([f"V{n}", f"P{n // 4}", on, "A", *ears])


def floor_people(path: Path) -> int:
    """Parse, and validate with the same libraries."""
    count = 0
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            datetime.strptime(row["born"], "%d/%m/%Y").date()
            if row["nhs_number"]:
                nhs.is_valid(row["nhs_number"])
            POSTCODE.fullmatch(row["postcode"])
            number = phonenumbers.parse(row["phone"], "GB")
            phonenumbers.is_valid_number(number)
            phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)
            try:
                validate_email(row["email"], check_deliverability=False)
            except EmailNotValidError:
                continue
            count += 1
    return count


def floor_visits(path: Path) -> int:
    """Parse, read the dates, and validate the findings with the library of the case file."""
    count = 0
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            datetime.strptime(row["on"], "%d/%m/%Y").date()
            for side in ("right_", "left_"):
                cells = {k[len(side) :]: v for k, v in row.items() if v and k.startswith(side)}
                msgspec.convert(cells, Ear, strict=False)
            count += 1
    return count


def ours(read, path: Path) -> int:
    """Read with the project's reader."""
    return sum(one.row is not None for one in read(path, Import(), today=TODAY))


def forget() -> None:
    """Empty what was remembered, so that each run does its whole work."""
    for check in (identifiers.nhs_number, identifiers.phone, identifiers.postcode):
        check.cache_clear()
    identifiers.email.cache_clear()
    parse_day.cache_clear()


def seconds(work, path: Path) -> tuple[float, int]:
    """Return the median of three runs."""
    taken = []
    for _ in range(3):
        forget()
        start = time.perf_counter()
        count = work(path)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken), count


def peak_mb(read, path: Path) -> float:
    """Return the peak memory of reading row by row."""
    tracemalloc.start()
    ours(read, path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def main() -> None:
    """Print the figures."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        for name, write, floor, read in (
            ("people", write_people, floor_people, read_people),
            ("visits", write_visits, floor_visits, read_visits),
        ):
            path = Path(folder) / f"{name}.csv"
            write(path, rows)
            base, _ = seconds(floor, path)
            spent, landed = seconds(lambda p, read=read: ours(read, p), path)
            print(
                f"{name}: {landed} of {rows} rows, {rows / spent:,.0f} rows/s, "
                f"{spent / base:.2f}x the floor ({rows / base:,.0f} rows/s), "
                f"{path.stat().st_size / 1e6:.0f} MB file, peak {peak_mb(read, path):.0f} MB"
            )


if __name__ == "__main__":
    main()
