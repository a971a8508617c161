"""A morning without the machine: the day's lists on paper, with room to write what came of each.

The night leaves them as one PDF: the day's appointments with what to know, the calls that were
promised for an hour, whom to ring with what to say, and who else waits for something. The days
before are kept for a week, then removed: what they say is personal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.day_sheets import appointments_of
from recall.desk.worklists.call_card import CallCard, call_cards
from recall.desk.worklists.call_lines import call_lines
from recall.desk.worklists.matter_list import MatterLine, matters
from recall.errors import InputError
from recall.letters.list_pages import Cell, Paper, Part, cell, make_lists
from recall.loop.outcomes import OUTCOMES
from recall.protocol.contact import PRESSING
from recall.schedule.calendar import say_day

KEPT = timedelta(days=7)
"""From the day of the newest: what is older is removed."""
_NAME = re.compile(r"morning-(\d{4}-\d{2}-\d{2})\.pdf")
_TO_RING = ("Ring", "Who, what to say", "What came of it")
_MATTERS = ("For", "What", "What came of it")
_WIDTHS = (42, 0, 56)


@needs(Right.MAINTAIN)
def write_papers(desk: Desk) -> Path:
    """Make the day's lists for paper, for their owner alone; remove those of days long gone.

    Raises:
        LetterError: they cannot be made.
        InputError: they cannot be written there.
    """
    folder = _folder(desk)
    out = folder / f"morning-{desk.today}.pdf"
    make_lists(paper_of(desk), out)
    _remove_old(folder, desk.today - KEPT)
    return out


@needs(Right.LOOK)
def paper_of(desk: Desk) -> Paper:
    """Return the day's lists."""
    day, next_on = desk.today, desk.calendar.open_from(desk.today + timedelta(days=1))
    lines = list(_cards(desk))
    promised = [[card] for line in lines for card in line if _promised(card)]
    promised.sort(key=lambda line: str(line[0].hour))
    others = [kept for line in lines if (kept := [c for c in line if not _promised(c)])]
    parts = [
        *appointments_of(desk, day, "Appointments today"),
        _to_ring("Calls that were promised for an hour", promised),
        _to_ring("To be rung", others),
        Part("Other things for today", (), _MATTERS, _WIDTHS, tuple(_matters(desk))),
    ]
    if next_on is not None:
        words = say_day(next_on, weekday=True)
        parts += appointments_of(desk, next_on, f"Appointments on {words}")
    zone = ZoneInfo(desk.config.calendar.time_zone)
    stood = f"{desk.now.astimezone(zone):%H:%M}"
    told = (
        f"{desk.config.practice.name}. As the register stood at {stood}.",
        "Write what came of each beside it, with the time and your initials; "
        "type it in with its day once the register is back.",
        f"What came of a call: {'; '.join(_outcomes())}.",
    )
    foot = f"{say_day(day)}. Personal: shred it once everything is typed in."
    title = f"{say_day(day, weekday=True)} on paper"
    return Paper(title, told, tuple(_said_if_empty(part) for part in parts), foot)


def _outcomes() -> Iterator[str]:
    """Give what can come of a call, with the key that records it later."""
    for one in OUTCOMES:
        yield f"{one.key} {one.short}" if one.key else one.short


def _said_if_empty(part: Part) -> Part:
    if part.rows:
        return part
    return Part(part.heading, ("Nothing.",), part.headings, part.widths, ())


def _folder(desk: Desk) -> Path:
    folder = desk.config.files.papers
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"The folder {folder} cannot be made: {error.strerror or error}.",
            hint="Choose another under files.papers.",
        ) from None
    return folder


def _remove_old(folder: Path, before: date) -> None:
    for path in folder.iterdir():
        named = _NAME.fullmatch(path.name)
        if named and named[1] < before.isoformat():
            path.unlink(missing_ok=True)


def _cards(desk: Desk) -> Iterator[list[CallCard]]:
    """Give the lines of the call list, each with the cards of its people."""
    lines = call_lines(desk)
    cards = call_cards(desk, [one.follow_up for line in lines for one in line], in_turn=True)
    by_number = {card.follow_up: card for card in cards}
    for line in lines:
        found = [by_number[one.follow_up] for one in line if one.follow_up in by_number]
        if found:
            yield found


def _promised(card: CallCard) -> bool:
    """Say whether a call was promised for an hour: it stands alone, whoever shares its number."""
    return bool(card.promised and card.hour)


def _to_ring(heading: str, lines: Iterable[list[CallCard]]) -> Part:
    rows = tuple(row for line in lines for row in _line(line))
    return Part(heading, (), _TO_RING, _WIDTHS, rows)


def _line(line: list[CallCard]) -> Iterator[tuple[Cell, ...]]:
    """Give one number to ring: a row for each person under it, to write beside."""
    first, *others = line
    yield _numbers(first), _card(first), ()
    for card in others:  # said again: the first may stand on the sheet before
        yield cell(_with(first, card), *_said(card), strong=(card.ask_for,)), _card(card), ()


def _with(first: CallCard, card: CallCard) -> str:
    """Say why somebody stands under the first of a line: rung on the number, or asked for too."""
    values = [each.numbers[0].value for each in (first, card) if each.numbers]
    return "the same number:" if len({*values}) < 2 else "in the same call:"


def _numbers(card: CallCard) -> Cell:
    when = (f"best: {number.best_time}" for number in card.numbers if number.best_time)
    hour = f"{card.hour:%H:%M}" if card.hour else ""
    return cell(*_said(card), *when, strong=(hour, card.ask_for))


def _said(card: CallCard) -> list[str]:
    return [number.said for number in card.numbers] or ["no number on record"]


def _card(card: CallCard) -> Cell:
    """Return who it is about, what to say and what to know; nothing of it is clinical."""
    who = f"{card.name}, born {say_day(card.born)}, {card.reference}"
    stopped = f"! {card.contact_stopped}" if card.contact_stopped else ""
    offer = f"; offer {say_day(card.offer_on)}" if card.offer_on else ""
    by = "Late since" if card.late_by_days > 0 else "By"
    then = f"{card.next} {by} {say_day(card.latest)}{offer}."
    said = f"Say: {card.why}"
    pressing = f"{card.urgency}!" if card.urgency in PRESSING else ""
    mind = (f"! {each}" for each in card.warnings)
    strong = (f"{who} {pressing}".strip(), stopped, *mind)
    return cell(said, then, *card.needs, *card.attempts[:1], *card.notes[:1], strong=strong)


def _matters(desk: Desk) -> Iterator[tuple[Cell, ...]]:
    """Give what is due today and waits for somebody, the longest due first."""
    for one in matters(desk, everybody=True):
        if one.due_on <= desk.today:
            yield cell(strong=(one.owner,)), _matter(one), ()


def _matter(one: MatterLine) -> Cell:
    who = f"{one.name}, born {say_day(one.born)}, {one.reference}" if one.born else ""
    ring = f"Ring {one.ask_for}, {one.ring}" if one.ring else ""
    return cell(one.text, who, ring, strong=(one.title,))
