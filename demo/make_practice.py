"""Make the CSV files of the invented practice, the same every time.

python3 demo/make_practice.py                 into demo/practice/
python3 demo/make_practice.py --into FOLDER   somewhere else
"""

import argparse
from pathlib import Path

from making import files
from making.lately import catch_up
from making.loops import Desk
from making.practice import tell_all
from making.referred import fates


def make(into: Path) -> dict[str, int]:
    """Write the files and return how many rows each has."""
    register, courses = tell_all()
    plans = catch_up(courses)
    desk = Desk()
    desk.work(courses, plans)
    tables = {
        "people.csv": (files.PEOPLE, [files.person_row(p) for p in register.people]),
        "visits.csv": (files.VISITS, files.visit_rows(courses)),
        "contacts.csv": (files.CONTACTS, [files.contact_row(c) for c in desk.contacts]),
        "bookings.csv": (files.BOOKINGS, [files.booking_row(b) for b in desk.bookings]),
        "referrals.csv": (files.REFERRALS, [files.referral_row(f) for f in fates(courses, plans)]),
    }
    into.mkdir(parents=True, exist_ok=True)
    for name, (headings, rows) in tables.items():
        files.write(into / name, headings, rows)
    return {name: len(rows) for name, (_, rows) in tables.items()}


def main() -> None:
    """Make the files and say how many rows they have."""
    parser = argparse.ArgumentParser(description="Make the invented practice's files.")
    here = Path(__file__).resolve().parent / "practice"
    parser.add_argument("--into", type=Path, default=here, metavar="FOLDER")
    into = parser.parse_args().into
    counts = make(into)
    print(", ".join(f"{name}: {count} rows" for name, count in counts.items()))


if __name__ == "__main__":
    main()
