"""How many plans a second one core makes on mixed cases. Run by hand.

    python tests/benchmarks/plans.py [CASES]

The floor decodes the same case files from JSON and encodes the same plans to JSON, and does
nothing else. Cases are the invented practice's own people, with all their visits.
"""

from __future__ import annotations

import gc
import statistics
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from datetime import date
from itertools import cycle, islice
from pathlib import Path

import msgspec

from recall.care.case import Case, Visit
from recall.care.casefile import decode_case, encode
from recall.config import load as load_config
from recall.exchange.people_in import read_people
from recall.exchange.visits_in import read_visits
from recall.protocol.loading import load
from recall.schedule.plan import Plan
from recall.schedule.planning import plan

PRACTICE = Path(__file__).resolve().parents[2] / "demo" / "practice"
ON = date(2027, 3, 8)
ROUNDS = 5
_DECODER = msgspec.json.Decoder(Case)


def practice_cases() -> list[bytes]:
    """Return the case files of the invented practice's people who were seen."""
    imports = load_config(PRACTICE / "recall.toml").imports
    visits: dict[str, list[Visit]] = defaultdict(list)
    for read in read_visits(PRACTICE / "visits.csv", imports, today=ON):
        if read.row is not None:
            visits[read.row.person].append(read.row.visit)
    found = []
    for read in read_people(PRACTICE / "people.csv", imports, today=ON):
        person = read.row
        if person is not None and visits[person.reference]:
            mine = tuple(sorted(visits[person.reference], key=lambda v: v.on))
            found.append(encode(Case(born=person.born, risks=person.risks, visits=mine)))
    return found


def seconds(work: Callable[[], object]) -> float:
    """Return the processor seconds of one run."""
    gc.collect()
    began = time.process_time()
    work()
    return time.process_time() - began


def main() -> None:
    """Print plans a second and the ratio to the floor."""
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    files = list(islice(cycle(practice_cases()), wanted))
    visits = sum(len(decode_case(f).visits) for f in files) / len(files)
    protocol = load()
    plans: list[Plan] = [plan(decode_case(f), protocol, ON) for f in files]

    def floor() -> None:
        for file, made in zip(files, plans, strict=True):
            _DECODER.decode(file)
            msgspec.json.encode(made)

    def ours() -> None:
        for file in files:
            msgspec.json.encode(plan(decode_case(file), protocol, ON))

    low = [seconds(floor) for _ in range(ROUNDS)]
    high = [seconds(ours) for _ in range(ROUNDS)]
    print(f"{len(files):,} cases, {visits:.1f} visits each")
    print(f"floor: {len(files) / statistics.median(low):,.0f} a second")
    print(f"plans: {len(files) / statistics.median(high):,.0f} a second")
    print(f"ratio: {statistics.median(high) / statistics.median(low):.1f}")


if __name__ == "__main__":
    main()
