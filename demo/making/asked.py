"""What the program asks for after the visits so far: it reads the very files that are written."""

import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from making import DEMO_DAY, files  # noqa: E402 — not before the path
from making.course import Course  # noqa: E402
from making.ears import SIDES  # noqa: E402
from recall.care.case import Case  # noqa: E402
from recall.config import load as settings  # noqa: E402
from recall.exchange.people_in import read_people  # noqa: E402
from recall.exchange.visits_in import VisitRow, read_visits  # noqa: E402
from recall.protocol.loading import load  # noqa: E402
from recall.protocol.own_days import taken_up_first  # noqa: E402
from recall.schedule.plan import Decision, Plan  # noqa: E402
from recall.schedule.planning import plan  # noqa: E402


def plans(courses: Sequence[Course]) -> dict[str, Plan]:
    """Return the plan of everybody who was seen, by reference."""
    imports = settings(ROOT / "demo" / "practice" / "recall.toml").imports
    seen: dict[str, list[VisitRow]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        for name, headings, rows in (
            ("people", files.PEOPLE, [files.person_row(course.person) for course in courses]),
            ("visits", files.VISITS, files.seen_rows(courses)),
        ):
            files.write(Path(folder, f"{name}.csv"), headings, rows)
        people = [r.row for r in read_people(Path(folder, "people.csv"), imports, today=DEMO_DAY)]
        for read in read_visits(Path(folder, "visits.csv"), imports, today=DEMO_DAY):
            if read.row is not None:
                seen[read.row.person].append(read.row)
    protocol, found = taken_up_first(load(), DEMO_DAY), {}
    for person in filter(None, people):
        mine = seen[person.reference]
        if mine:
            visits = tuple(row.visit for row in mine)
            case = Case(born=person.born, risks=person.risks, visits=visits)
            told = tuple(_by_category(mine))
            found[person.reference] = plan(case, protocol, DEMO_DAY, decisions=told)
    return found


def _by_category(visits: Sequence[VisitRow]) -> Iterator[Decision]:
    """Give what visits ask for of which only a category was written down."""
    for row in visits:
        if row.category and row.visit.right is None and row.visit.left is None:
            for side in SIDES:
                yield Decision(on=row.visit.on, ear=side, action="ask", category=row.category)
