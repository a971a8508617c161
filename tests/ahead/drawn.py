"""Small weeks of work, drawn at random: for the properties of levelling and for its oracle."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st

from recall.ahead.work import Booked, Hours, Piece, Slot, slots

MONDAY = date(2026, 9, 7)
DAYS = [MONDAY + timedelta(days=n) for n in range(5)]
ABLE = (frozenset({"otoscopy", "hearing_test"}), frozenset({"otoscopy", "clear_wax"}), None)


@st.composite
def weeks(draw: st.DrawFn, most: int = 9) -> tuple[list[Piece], tuple[Slot, ...], list[Booked]]:
    """A week of two practitioners, some appointments that stand, and pieces to be placed."""
    rota = [
        Hours(
            who=who,
            minutes={n: draw(st.sampled_from((0, 60, 120, 240))) for n in range(5)},
            does=draw(st.sampled_from(ABLE)),
            site=draw(st.sampled_from(("", "north"))),
        )
        for who in ("ada", "ben")
    ]
    booked = draw(st.lists(st.builds(_booked, st.integers(0, 4), st.sampled_from((20, 30)))))
    pieces = draw(st.lists(st.integers(1, 99), max_size=most).flatmap(_pieces))
    return pieces, slots(rota, DAYS), booked[:4]


def _booked(day: int, minutes: int) -> Booked:
    return Booked(on=DAYS[day], minutes=minutes, who="ada")


def _pieces(numbers: list[int]) -> st.SearchStrategy[list[Piece]]:
    return st.tuples(*(_piece(n) for n, _ in enumerate(numbers))).map(list)


@st.composite
def _piece(draw: st.DrawFn, number: int) -> Piece:
    first, middle, last = sorted(draw(st.tuples(*[st.integers(-1, 5)] * 3)))
    day = MONDAY + timedelta(days=first)
    return Piece(
        number=number,
        minutes=draw(st.sampled_from((10, 20, 30, 40, 60))),
        earliest=day,
        target=MONDAY + timedelta(days=middle),
        latest=MONDAY + timedelta(days=last),
        urgency=draw(st.sampled_from(("urgent", "high", "medium", "low"))),
        does=draw(
            st.sampled_from((frozenset(), frozenset({"otoscopy"}), frozenset({"clear_wax"})))
        ),
        practitioner=draw(st.sampled_from(("", "ada", "ben"))),
        site=draw(st.sampled_from(("", "north", "south"))),
    )
