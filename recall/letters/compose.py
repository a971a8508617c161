"""From what a letter needs to what it says: on paper, in an e-mail, in a call."""

from __future__ import annotations

from typing import Any, NamedTuple

import msgspec

from recall.care.audiogram import Audiogram
from recall.errors import LetterError
from recall.letters.composed import Block, ComposedLetter
from recall.letters.data import ABOUT_ANOTHER, TO_COLLEAGUES, LetterData
from recall.letters.text import clean, clean_lines
from recall.letters.wording import Wording
from recall.letters.wording.blocks import plain
from recall.letters.wording.filters import hours

WORDS: dict[str, str] = {
    "number": "the letter's own reference",
    "salutation": "who is greeted",
    "person": "whose appointment it is, where somebody else is written to; otherwise empty",
    "who": "`person`, or `salutation` where that is empty",
    "practice": "the practice: `.name`, `.address` (lines), `.phone`, `.email`, `.opening_hours`",
    "on": "the date of the letter",
    "appointment": "the booked or missed time, or nothing: `.on`, `.at`, `.place`",
    "call_by": "the day by which to call, in a call the day to offer, or nothing",
    "soon": "whether it is late, or about to be: as soon as they can, in the place of a day",
    "cautions": "lines to know before the visit",
    "what_for": "why they are asked to come, line by line, where the practice has chosen to say so",
    "matters": "whether what is followed can do harm if it is left",
    "signed_by": "who signs; the practice's name where nobody does",
    "signed_role": "the role of who signs, or empty",
    "told": "on the sheet to take home: `.visit_on`, `.whose` (your, or your "
    "child's), `.found`, `.following`, `.meanwhile`, `.runs` (an ear runs or bleeds already)",
    "subject": "in letters to colleagues: `.name`, `.born`, `.reference`, `.address`, "
    "`.nhs_number`, `.adult`, `.phone`, `.gp`",
    "seen": "in letters to colleagues: `.visit_on`, `.not_examined`, `.reported`, `.right`, "
    "`.left`, `.audiogram` (a hearing test to draw, or nothing), `.tested_on`, `.tested_before`, "
    "`.trends`, `.history` (what was reported first), `.reasons`, `.asks`, `.is_emergency`, "
    "`.is_urgent`, `.questions`, `.words`, `.beside`, `.tried`, `.spoken_to`",
}
"""Every word that wording may use, with what it stands for."""


class Mail(NamedTuple):
    """A letter as an e-mail or as plain text."""

    subject: str
    text: str
    language: str


class Script(NamedTuple):
    """What to say in a call, block by block."""

    blocks: tuple[Block, ...]
    text: str
    language: str


def compose(data: LetterData, wording: Wording) -> ComposedLetter:
    """Return the letter in words, or say which wording stops it."""
    words = words_of(data)
    body = wording.render(data.kind, data.language, words)
    top = wording.render("top", body.language, words)
    if len(top.blocks) != 1 or len(top.blocks[0].lines) != 2:
        raise LetterError(
            f"The wording {top.language}/top.txt must have two lines, the date and the reference.",
            hint="Begin each of its two lines with '~ '.",
        )
    practice = words["practice"]
    dated, numbered = top.blocks[0].lines
    contact = (practice["phone"], practice["email"], hours(practice, body.language))
    return ComposedLetter(
        number=words["number"],
        kind=data.kind,
        size=data.size,
        language=body.language,
        address=clean_lines(data.recipient),
        practice_name=practice["name"],
        practice_lines=(*practice["address"], *filter(None, contact)),
        dated=dated,
        numbered=numbered,
        body=body.blocks,
        audiogram=_drawn(data, body.blocks),
    )


def _drawn(data: LetterData, body: tuple[Block, ...]) -> Audiogram | None:
    """Return the hearing chart where the wording draws it: no other letter holds any of it."""
    draws = any(block.kind == "audiogram" for block in body)
    return data.seen.audiogram if draws and data.seen is not None else None


def mail(data: LetterData, wording: Wording) -> Mail:
    """Return the letter as an e-mail or plain text; its subject says nothing of the reason."""
    words = words_of(data)
    body = wording.render(data.kind, data.language, words)
    subject = wording.render("mail_subject", body.language, words)
    foot = wording.render("mail_foot", body.language, words)
    text = plain((*body.blocks, *foot.blocks)) + "\n"
    return Mail(plain(subject.blocks).replace("\n", " "), text, body.language)


def script(data: LetterData, wording: Wording) -> Script:
    """Return what to say in a call: who it is comes before why."""
    said = wording.render(f"spoken_{data.kind}", data.language, words_of(data))
    return Script(said.blocks, plain(said.blocks) + "\n", said.language)


def words_of(data: LetterData) -> dict[str, Any]:
    """Return the words that wording may use, cleaned; `WORDS` says what each stands for."""
    _refuse_gaps(data)
    given: dict[str, Any] = _cleaned(msgspec.structs.asdict(data))
    given["who"] = given["person"] or given["salutation"]
    given["signed_by"] = given["signed_by"] or given["practice"]["name"]
    return {word: given[word] for word in WORDS}


def _cleaned(value: Any) -> Any:
    """Return a value with every text in it cleaned, as plain dicts, lists and dates."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, tuple):
        return tuple(filter(None, map(_cleaned, value)))
    if isinstance(value, msgspec.Struct):
        value = msgspec.structs.asdict(value)
    if isinstance(value, dict):
        return {name: _cleaned(part) for name, part in value.items()}
    return value


def _refuse_gaps(data: LetterData) -> None:
    """Refuse a letter that lacks what its kind cannot do without."""
    needs = {
        "a greeting": bool(clean(data.salutation)),
        "the name of the person": data.kind not in ABOUT_ANOTHER or bool(clean(data.person)),
        "the booked time": data.kind != "booking_confirmation" or data.appointment is not None,
        "who it is about and what was seen": data.kind not in TO_COLLEAGUES
        or (data.subject is not None and data.seen is not None),
    }
    missing = [need for need, met in needs.items() if not met]
    if missing:
        raise LetterError(
            f"Letter {data.number} ({data.kind}) lacks {', '.join(missing)}.",
            hint="Complete the record, then make the letter again.",
        )
