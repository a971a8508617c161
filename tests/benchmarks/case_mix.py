"""What the protocol asks of an ordinary year of ear visits. Run by hand.

    python tests/benchmarks/case_mix.py [VISITS]

The mix is seeded, so that two runs differ only by the protocol. Its shares are of our own, for
nothing was found published of how often each thing is met in such a clinic; three quarters wax
only, one in twelve not cleared at first, and a few per cent of each other thing are common
practice. Beside it: of 5,353 people seen in twenty community services for wax, with otoscopy and a
hearing check, 3.6 in 100 were advised to go on to secondary care (Pharm J, 2024, on the Health
Innovation Wessex evaluation); of 408 of a service for ears and eyes 5 in 100 (Hall, BMC Health
Serv Res 2019;19).
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any, NamedTuple

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case
from recall.cli.visits.plan_text import plan_text
from recall.protocol.loading import load
from recall.schedule.calendar import Calendar
from recall.schedule.plan import FollowUp, Plan
from recall.schedule.planning import plan

SEED = 1
FIRST = date(2027, 1, 4)
"""A Monday on which every rule in force judges."""
OPEN = Calendar()
ENOUGH_DAYS = 5
SOON = timedelta(weeks=2)
HOSPITAL = ("ent", "emergency", "stroke")
"""What the published figures call secondary care."""
ASKED = "hearing after asked, or nothing told"
Found = dict[str, Any]
Rows = tuple[tuple[str, float], ...]

MIX: Rows = (
    ("wax", 75.0), ("normal", 5.0), ("infection", 4.0), ("hole", 3.0), ("retraction", 3.0),
    ("grommet", 3.0), ("child with fluid", 4.0), ("red flag", 3.0),
)  # fmt: skip
"""In 100 visits."""
NOT_CLEARED = 1 / 12
DRUM: Found = {
    "drum_seen": "full", "attic_seen": True, "effusion": "absent", "tensa_grade": 0,
    "attic_grade": 0, "perforation": "none", "canal_skin": "normal", "discharge": "none",
}  # fmt: skip
CLEAR: Found = {**DRUM, "wax_found": "none"}
OUT: Found = {**DRUM, "wax_found": "occluding", "wax_left": "none", "clearance": "cleared"}
NOT_OUT: Found = {
    "wax_found": "occluding", "wax_left": "occluding", "clearance": "failed", "drum_seen": "none",
}  # fmt: skip
LEVEL: Found = {"hearing_dB": dict.fromkeys(("500", "1000", "2000", "4000"), 15)}
TOLD: tuple[tuple[str, float], ...] = (
    ("", 45), ("hearing_concern", 40), ("pain", 5), ("fluctuating_hearing", 3),
    ("tinnitus_one_sided", 3), ("worsening_hearing_loss", 2), ("vertigo", 2),
)  # fmt: skip
"""What is said at a visit for wax, of every hundred: common practice, no source."""
AFTER: tuple[tuple[str, float], ...] = (("better", 60), ("", 35), ("same", 5))


class Met(NamedTuple):
    """One visit of the mix, with what it was and whether anything was abnormal."""

    kind: str
    case: Case
    plain: bool
    """Whether it is an adult with both ears clear and normal, hearing not the same as before."""
    at_risk: bool

    @property
    def asked(self) -> bool:
        """Return whether hearing after it was recorded, or no concern was told."""
        last = self.case.visits[-1]
        after = last.right is not None and last.right.hearing_after is not None
        return after or not last.reported

    @property
    def on(self) -> date:
        """Return the day of the last visit."""
        return self.case.visits[-1].on


def _one(rng: random.Random, rows: Iterable[tuple[str, float]]) -> str:
    names, weights = zip(*rows, strict=True)
    picked: str = rng.choices(names, weights)[0]
    return picked


def _adult(rng: random.Random, on: date) -> date:
    return on - timedelta(days=rng.randint(30 * 365, 88 * 365))


def _wax(rng: random.Random, on: date) -> tuple[list[Found], bool]:
    """Return the visits of somebody with wax, and whether all ended clear and normal."""
    failed = rng.random() < NOT_CLEARED
    told, after = _one(rng, TOLD), _one(rng, AFTER)
    cleared = {**OUT, "hearing_after": after} if after else OUT
    both = rng.random() < 0.6
    visit: Found = {"on": on, "right": cleared, "left": cleared if both else CLEAR}
    if failed:
        visit["right"] = NOT_OUT
    if told:
        visit["reported"] = [told if both else {"what": told, "ear": "right"}]
    earlier: list[Found] = []
    if rng.random() < 0.25:
        before = on - timedelta(days=rng.randint(400, 800))
        earlier = [{"on": before, "right": OUT, "left": OUT}]
    return [*earlier, visit], not failed and after != "same"


def _ill(rng: random.Random, kind: str) -> list[tuple[Found, Found, list[str]]]:
    """Return what may be found in the right ear, the left ear, and told, of one kind."""
    if kind == "infection":
        return [({**CLEAR, "canal_skin": "inflamed", "treated": t}, CLEAR, ["pain"]) for t in
                (True, True, False)]  # fmt: skip
    if kind == "hole":
        return [({**CLEAR, "perforation": "central", "perforation_new": new}, CLEAR, []) for new in
                (True, False, False)]  # fmt: skip
    if kind == "retraction":
        grades = ({"tensa_grade": 1}, {"tensa_grade": 1}, {"tensa_grade": 2}, {"attic_grade": 1},
                  {"attic_grade": 2}, {"tensa_grade": 3})  # fmt: skip
        return [({**CLEAR, **grade}, CLEAR, []) for grade in grades]
    if kind == "red flag":
        sudden = [({**CLEAR, **LEVEL}, CLEAR, [word]) for word in
                  ("sudden_hearing_loss", "facial_weakness")]  # fmt: skip
        return [*sudden, ({**CLEAR, "attic_grade": 3, "keratin": True}, CLEAR, [])]
    return [(CLEAR, CLEAR, [told] if told else []) for told in ("", "hearing_concern")]


def _child(rng: random.Random, kind: str, on: date) -> list[Found]:
    """Return the visits of a child with fluid or a grommet."""
    if kind == "grommet":
        since = on - timedelta(days=rng.choice((30, 200, 400)))
        ear = {**CLEAR, "grommet": "in_place", "grommet_on": since.isoformat()}
        return [{"on": on, "right": ear, "left": ear}]
    fluid = {**CLEAR, "effusion": "present"}
    left = fluid if rng.random() < 0.6 else CLEAR
    visits: list[Found] = [{"on": on, "right": fluid, "left": left}]
    if rng.random() < 0.4:
        found = {**fluid, **LEVEL} if rng.random() < 0.5 else {**CLEAR, **LEVEL}
        both = {"on": on + timedelta(days=42), "right": found, "left": {**left, **LEVEL}}
        visits.append(both)
    return visits


def mix(visits: int) -> Iterator[Met]:
    """Yield the mix, the same for the same number of visits."""
    rng = random.Random(SEED)
    for number in range(visits):
        on = FIRST + timedelta(days=7 * (number % 52) + number % 5)
        kind = _one(rng, MIX)
        plain, risks = kind == "normal", []
        born = _adult(rng, on)
        if kind == "wax":
            found, plain = _wax(rng, on)
            if rng.random() < 0.2:
                risks = [rng.choice(("hearing_aid", "hearing_aid", "recurrent_wax", "dementia"))]
        elif kind in ("child with fluid", "grommet"):
            born = on - timedelta(days=rng.randint(3 * 365, 9 * 365))
            found = _child(rng, kind, on)
        else:
            right, left, told = rng.choice(_ill(rng, kind))
            found = [{"on": on, "right": right, "left": left, "reported": told}]
        case = convert({"born": born, "risks": risks, "visits": found}, Case)
        yield Met(kind, case, plain, bool(risks))


def open_days(follow_up: FollowUp) -> int:
    """Return how many days of a follow-up's window the practice is open."""
    return len(OPEN.open_days(follow_up.earliest, follow_up.latest))


def narrow(met: Met, made: Plan) -> list[FollowUp]:
    """Return the follow-ups with fewer than five open days, of those that are not soon."""
    far = (f for f in made.follow_ups if f.latest > met.on + SOON)
    return [f for f in far if open_days(f) < ENOUGH_DAYS]


def appointments(met: Met, made: Plan) -> int:
    """Return how many appointments a plan comes to: what is late is done at any of them."""
    ahead = sum(f.latest >= met.on for f in made.follow_ups)
    return ahead or bool(made.follow_ups)


def lines_of(made: Plan) -> int:
    """Return how many lines somebody reads of a plan; not of the protocol's own notices."""
    return sum(1 for line in plan_text(made).splitlines() if not line.startswith("Note: Protocol"))


def lines_asked(made: Plan) -> int:
    """Return how many of them are of what is asked, and not of what is said to the person."""
    return lines_of(replace(made, advice=()))


class Figures(NamedTuple):
    """What one mix comes to; shares and rates in 100."""

    follow_ups: float
    referrals: float
    to_hospital: float
    """Referrals to ENT, the emergency department or the stroke service."""
    urgent: float
    wax_referred: float
    nothing: dict[str, float]
    """By who they are: adults with nothing abnormal who get nothing."""
    narrow: int
    many: float
    """People with more than two appointments."""
    lines: int
    """Most lines of what is asked of a child with fluid in both ears."""
    lines_told: int
    asked: Counter[str]


def figures(visits: int) -> Figures:
    """Return the figures of a mix of so many visits, under the shipped protocol."""
    protocol = load()
    pairs = [(met, plan(met.case, protocol, met.on)) for met in mix(visits)]
    each = 100 / len(pairs)
    referrals = [r for _, p in pairs for r in p.referrals]
    plain_wax = [p for m, p in pairs if m.kind in ("wax", "normal")]
    asked = Counter(d.rule for _, p in pairs for f in p.follow_ups for d in f.dues)
    asked.update(r.rule for one in referrals for r in one.reasons)
    both = [p for m, p in pairs if m.kind == "child with fluid"
            and all(e is not None and e.effusion == "present" for e in
                    (m.case.visits[-1].right, m.case.visits[-1].left))]  # fmt: skip
    return Figures(
        follow_ups=each * sum(len(p.follow_ups) for _, p in pairs),
        referrals=each * len(referrals),
        to_hospital=each * sum(r.to in HOSPITAL for r in referrals),
        urgent=each * sum(r.urgency in ("emergency", "urgent") for r in referrals),
        wax_referred=100 * sum(bool(p.referrals) for p in plain_wax) / len(plain_wax),
        nothing=_get_nothing([(m, p) for m, p in pairs if m.plain]),
        narrow=sum(len(narrow(m, p)) for m, p in pairs),
        many=each * sum(appointments(m, p) > 2 for m, p in pairs),
        lines=max(map(lines_asked, both)),
        lines_told=max(map(lines_of, both)),
        asked=asked,
    )


def _get_nothing(whole: list[tuple[Met, Plan]]) -> dict[str, float]:
    """Return the shares of adults with nothing abnormal who get nothing, by who they are."""
    several = {
        "no risk on record": [p for m, p in whole if not m.at_risk],
        ASKED: [p for m, p in whole if not m.at_risk and m.asked],
        "with an aid or another risk": [p for m, p in whole if m.at_risk],
    }
    return {
        who: 100 * sum(not (p.follow_ups or p.referrals) for p in clear) / len(clear)
        for who, clear in several.items()
    }


def main() -> None:
    """Print the figures, all of one run."""
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    found = figures(wanted)
    print(f"{wanted:,} visits, seed {SEED}")
    print(f"follow-ups per 100 visits: {found.follow_ups:.1f}")
    print(f"referrals per 100 visits: {found.referrals:.1f}; urgent {found.urgent:.1f}")
    print(f"of them to ENT, emergency or stroke: {found.to_hospital:.1f}")
    print(f"people with wax or nothing who are referred, in 100: {found.wax_referred:.1f}")
    for who, share in found.nothing.items():
        print(f"adults with nothing abnormal, {who}, who get nothing: {share:.1f} %")
    print(f"windows under five open days: {found.narrow}")
    print(f"people with more than two appointments: {found.many:.1f} %")
    told = f"with what they are told {found.lines_told}"
    print(f"lines to read, fluid in both ears: at most {found.lines}; {told}")
    print("asked most:", ", ".join(f"{rule} {n}" for rule, n in found.asked.most_common(12)))


if __name__ == "__main__":
    main()
