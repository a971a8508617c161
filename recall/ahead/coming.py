"""What the appointments of the weeks ahead bring in turn: next looks, and who missed one again.

A look to come is counted like one that stands: it is missed or kept, and brings others. Week by
week, so that each is counted once; what comes in the same week again is followed a few times.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import msgspec

from recall.ahead.again import ALL, NONE_MISSED, Again, Missed

MOST = 7
"""How often one week can bring itself another look: once a day."""
LITTLE = 0.001
"""People below which nothing more is followed."""

People = Mapping[str, tuple[float, float]]
"""By kind, how many people are to be seen, and how many minutes that takes."""
Bringing = tuple[int, str, float, float]
"""After how many weeks, of which kind, how many people, how many minutes."""


class Expected(msgspec.Struct, frozen=True):
    """Minutes that appointments of these weeks are expected to bring, with their spread."""

    minutes: float = 0.0
    low: float = 0.0
    """Where every share is at the low end of its interval."""
    high: float = 0.0


def created(
    seen: Iterable[People],
    known: Mapping[str, Again],
    weeks: int,
    missed: Missed = NONE_MISSED,
) -> list[Expected]:
    """Return week by week what appointments of the same weeks bring, and what those bring.

    Args:
        seen: for each week, who is to be seen about each kind.
        known: what each kind creates.
        weeks: how many weeks.
        missed: how often an appointment is missed.
    """
    given = list(seen)
    ends = ("share", "low", "high")
    sums = [_sums(given, _Rates(known, missed, end), weeks) for end in ends]
    return [Expected(*each) for each in zip(*sums, strict=True)]


class _Rates(msgspec.Struct, frozen=True):
    known: Mapping[str, Again]
    missed: Missed
    end: str
    """Which end of the interval is taken: the share itself, low or high."""

    def brings(self, kind: str, people: float, minutes: float) -> Iterator[Bringing]:
        """Give what people who are to be seen about a kind bring."""
        away = getattr(self.missed.share, self.end) or 0.0
        for after, part in self.missed.after.items():
            yield after, kind, people * away * part, minutes * away * part
        again = self.known.get(kind) or self.known.get(ALL)
        if again is None or again.share.share is None:
            return
        came = people * (1 - self.missed.part) * getattr(again.share, self.end)
        for (after, then), part in again.after.items():
            yield after, then, came * part, came * part * again.minutes


def _sums(seen: Sequence[People], rates: _Rates, weeks: int) -> list[float]:
    arrived: list[dict[str, list[float]]] = [{} for _ in range(weeks)]
    sums = [0.0] * weeks
    for week in range(weeks):
        wave = {kind: list(told) for kind, told in arrived[week].items()}
        sums[week] += sum(minutes for _, minutes in wave.values())
        for kind, told in seen[week].items() if week < len(seen) else ():
            _add(wave, kind, *told)
        for _ in range(MOST):
            wave = _wave(wave, week, rates, arrived)
            sums[week] += sum(minutes for _, minutes in wave.values())
            if sum(people for people, _ in wave.values()) < LITTLE:
                break
    return sums


def _wave(
    wave: Mapping[str, Sequence[float]],
    week: int,
    rates: _Rates,
    arrived: Sequence[dict[str, list[float]]],
) -> dict[str, list[float]]:
    """Lay what some people bring into the later weeks; return what comes in the same week."""
    at_once: dict[str, list[float]] = {}
    for kind, (people, minutes) in wave.items():
        for after, then, count, took in rates.brings(kind, people, minutes):
            if not after:
                _add(at_once, then, count, took)
            elif week + after < len(arrived):
                _add(arrived[week + after], then, count, took)
    return at_once


def _add(to: dict[str, list[float]], kind: str, people: float, minutes: float) -> None:
    told = to.setdefault(kind, [0.0, 0.0])
    told[0] += people
    told[1] += minutes
