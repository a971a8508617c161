"""Plans a second on one core: `python tests/benchmarks/core.py [SECONDS]`.

Cases: every rule case of tests/cases as given, and the same findings spread over 1, 3, 5
and 30 visits. The floor, in the same run, is decoding and encoding the same JSON. For
comparison a general-purpose rule-expression library (`pip install rule-engine`) matches 36
of the protocol's conditions for two ears, matching alone. Last, a register is planned
again on two cores. All times are processor time, so that other work on the machine
disturbs little; quote the ratios.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date, timedelta
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import msgspec

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.care.case import Case, Visit
from recall.care.casefile import decode_case, encode
from recall.protocol.loading import load
from recall.schedule.fold import fold
from recall.schedule.planning import plan
from tests.protocol.case_files import all_cases

LATER = date(2035, 1, 1)
PROTOCOL = load()


def as_given() -> list[bytes]:
    """Return the rule cases as case files."""
    return [msgspec.json.encode(c.given) for c in all_cases()]


def _dated(visit: Visit) -> bool:
    """Return whether an ear holds a date, which would not suit another day."""
    names = ("grommet_on", "hearing_aid_fitted_on", "discharge_since", "loss_treated_on")
    return any(
        ear is not None and getattr(ear, name) is not None
        for ear in (visit.right, visit.left)
        for name in names
    )


def spread(visits: int, people: int, seed: int = 11) -> list[bytes]:
    """Return people whose findings, drawn from the rule cases, lie on so many visits."""
    rng = random.Random(seed)
    cases = [decode_case(c) for c in as_given()]
    seen = [v for c in cases for v in c.visits if (v.right or v.left) and not _dated(v)]
    made = []
    for _ in range(people):
        base = rng.choice(cases)
        on = max(base.born, date(2020, 1, 1)) + timedelta(days=rng.randint(0, 700))
        found = []
        for _ in range(visits):
            found.append(msgspec.structs.replace(rng.choice(seen), on=on, reported=()))
            on += timedelta(days=rng.randint(14, 120))
        made.append(encode(Case(born=base.born, risks=base.risks[:1], visits=tuple(found))))
    return made


def rate(work: Callable[[bytes], object], files: Sequence[bytes], seconds: float) -> float:
    """Return how many files a second of processor time some work does."""
    for file in files[:50]:
        work(file)
    start, done = process_time(), 0
    while process_time() - start < seconds:
        for file in files:
            work(file)
        done += len(files)
    return done / (process_time() - start)


def whole(file: bytes) -> bytes:
    """Decode, plan and encode one case file."""
    return msgspec.json.encode(plan(decode_case(file), PROTOCOL, LATER))


def floor_of(files: Sequence[bytes]) -> Callable[[bytes], bytes]:
    """Return the least that each file costs: the same JSON in, the same plan's JSON out."""
    plans = {f: plan(decode_case(f), PROTOCOL, LATER) for f in files}
    decoder = msgspec.json.Decoder(Case)

    def both(file: bytes) -> bytes:
        decoder.decode(file)
        return msgspec.json.encode(plans[file])

    return both


def rows(seconds: float) -> None:
    """Print plans a second and the ratio to the floor for each kind of case."""
    print(f"{'cases':<26}{'plans/s':>10}{'planning/s':>12}{'floor/s':>10}{'ratio':>8}")
    kinds = [("as given", as_given())]
    kinds += [(f"{n} visits a person", spread(n, 300 if n < 30 else 60)) for n in (1, 3, 5, 30)]
    for name, files in kinds:
        decoded = {f: decode_case(f) for f in files}
        planned = rate(whole, files, seconds)
        alone = rate(lambda f, d=decoded: plan(d[f], PROTOCOL, LATER), files, seconds)  # type: ignore[misc]
        least = rate(floor_of(files), files, seconds)
        print(f"{name:<26}{planned:>10.0f}{alone:>12.0f}{least:>10.0f}{least / planned:>8.1f}")


def expressions(seconds: float) -> None:
    """Print how often a general-purpose library matches 36 conditions for two ears."""
    try:
        import rule_engine
    except ImportError:
        print("rule-expression library: not installed (pip install rule-engine)")
        return
    text = [
        f"effusion == 'present' and age < {16 + n % 3} and weeks < {12 + n} and grade >= {n % 4}"
        for n in range(36)
    ]
    compiled = [rule_engine.Rule(t) for t in text]
    ears: list[dict[str, Any]] = [
        {"effusion": "present", "age": 8, "weeks": 6, "grade": 2},
        {"effusion": "absent", "age": 8, "weeks": 0, "grade": 0},
    ]
    start, done = process_time(), 0
    while process_time() - start < seconds:
        for ear in ears:
            for rule in compiled:
                rule.matches(ear)
        done += 1
    each = done / (process_time() - start)
    print(f"rule-expression library, 36 conditions for two ears: {each:.0f} a second")


def _fold_all(files: list[bytes]) -> int:
    return sum(len(fold(decode_case(f), PROTOCOL, LATER).open) for f in files)


def register(people: int) -> None:
    """Print the time to plan a register again on two cores."""
    files = spread(3, 2000)
    files = [files[n % len(files)] for n in range(people)]
    halves = [files[::2], files[1::2]]
    start = perf_counter()
    with ProcessPoolExecutor(2) as pool:
        asked = sum(pool.map(_fold_all, halves))
    print(f"{people:,} people on two cores: {perf_counter() - start:.1f} s, {asked:,} open asks")


def main() -> None:
    """Run all of it."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 3.0
    rows(seconds)
    expressions(seconds)
    register(100_000 if seconds >= 3 else 5_000)


if __name__ == "__main__":
    main()
