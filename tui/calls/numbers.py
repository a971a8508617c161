"""The numbers of the person in hand: which one is being rung, and how they are shown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from tui.words.text import plain, several

if TYPE_CHECKING:
    from recall.desk.core.numbers import NumberToRing
    from recall.desk.worklists.call_card import CallCard


def turned(row: CallCard, by: int) -> CallCard:
    """Return a card with a later number first, the ones before it at the end."""
    if len(row.numbers) < 2 or not by:
        return row
    at = by % len(row.numbers)
    numbers = (*row.numbers[at:], *row.numbers[:at])
    return replace(row, numbers=numbers, number=numbers[0].raw)


def said(number: NumberToRing, ask_for: str) -> str:
    """Return a number, whose it is where that is not whom to ask for, and how many others' too."""
    shown = number.raw if number.whose == ask_for else number.said
    others = f"; also {_named(number.others)}" if number.others else ""
    best = f"; best {plain(number.best_time)}" if number.best_time else ""
    return f"{plain(shown)}{best}{others}"


def _named(others: Sequence[str]) -> str:
    """Return who else has a number: the first by name, how many there are besides."""
    more = f" and {several(len(others) - 1, 'other')}" if len(others) > 1 else ""
    return f"{plain(others[0])}{more}"


def best_time(row: CallCard) -> str:
    """Return when whoever is in hand is best rung on the number that is shown."""
    return row.numbers[0].best_time if row.numbers else ""


def lines(row: CallCard, most: int) -> Iterator[tuple[str, str]]:
    """Give the number to ring, then those to try after it, with the word before each."""
    if not row.numbers:
        yield "Ring", "no number is recorded"
        return
    yield "Ring", said(row.numbers[0], row.ask_for)
    rest = row.numbers[1:]
    for number in rest[:most]:
        yield "or →", said(number, row.ask_for)
    if len(rest) > most:
        yield "or →", f"{several(len(rest) - most, 'more number')}"


def shared(row: CallCard) -> str:
    """Return what to think of before a number is struck for others too; empty where for none."""
    others = row.numbers[0].others if row.numbers else ()
    if not others:
        return ""
    who = f"{_named(others)} {'has' if len(others) == 1 else 'have'}"
    return (
        f"{who} this number: it is struck for all. Where only this person is there "
        "no longer, leave with Esc and press z."
    )
