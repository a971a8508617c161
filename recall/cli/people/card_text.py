"""One person's card as lines of plain text, with the numbers that commands take."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from recall.care.services import to_whom

if TYPE_CHECKING:
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.matter_list import MatterLine
    from recall.records.people.addresses import ContactPointRow


def card_text(card: PersonCard) -> str:
    """Return a card as text, 80 columns where names allow."""
    lines = [f"{card.ref}  {card.name}, born {card.born}"]
    lines += list(card.rung)
    lines += [f"Today: {card.spoken}."] if card.spoken else []
    lines += [f"! {words}" for words in (*card.warnings, *card.cautions)]
    lines += _part("Needs", card.needs)
    names = {adult.id: f", {adult.name}'s" for adult in card.adults}
    ways = (f"[{w.id}] {w.kind}: {_way(w)}{_whose(w, names)}" for w in card.contact_points)
    lines += _part("Reach", tuple(ways))
    lines += _part("Risks", tuple(f"[{r.id}] {r.what.replace('_', ' ')}" for r in card.risks))
    lines += _part("Adults", tuple(f"[{a.id}] {a.name}, {a.role}" for a in card.adults))
    for follow_up in card.follow_ups:
        ears = " and ".join(follow_up.ears)
        what = ", ".join(follow_up.tracks if card.clinical else ("follow-up",))
        lines.append(f"[{follow_up.id}] {what}, {ears}:")
        lines.append(f"    {follow_up.earliest} to {follow_up.latest}, {follow_up.urgency}")
        lines.append(f"    next {follow_up.on}: {follow_up.why}")
        lines += [f"    say: {words}" for words in follow_up.says_aloud]
    for referral in card.referrals:
        numbers = " ".join(f"[{number}]" for number in referral.numbers)
        to = to_whom(referral.to, referral.ears)
        lines.append(f"Referral {numbers} to {to}: {referral.why}")
    lines += _part("To see to", tuple(_matter(each) for each in card.matters))
    lines += _part("Judged", tuple(f"[{j.number}] {j.on}, {j.by}: {j.words}" for j in card.judged))
    for seen in card.visits:
        lines.append(f"Seen {seen.on} ({seen.examiner})")
        if not card.clinical:
            continue
        lines.append(f"    right: {'; '.join(seen.right) or 'nothing recorded'}")
        lines.append(f"    left:  {'; '.join(seen.left) or 'nothing recorded'}")
        lines += [f"    note:  {' '.join(seen.note.split())}"] if seen.note else []
    lines += _part("Tried", tuple(f"{t.on}: {t.words}" for t in card.tried))
    lines += _part("Notes", tuple(f"{t.on}: {t.words}" for t in card.notes))
    return "\n".join(lines) + "\n"


def _way(way: ContactPointRow) -> str:
    """Return a way to reach somebody as it stands, with its label: “07700 900004 (mum)”."""
    label = f" ({way.label})" if way.label else ""
    return f"{way.raw.replace(chr(10), ', ')}{label}"


def _whose(way: ContactPointRow, names: dict[int, str]) -> str:
    """Return in words whose a way to reach somebody is, where it is not their own."""
    return names.get(way.adult_id, ", an adult's") if way.adult_id else ""


def _matter(row: MatterLine) -> str:
    text = " ".join(row.text.split())
    return f"[{row.number}] {row.title}, for {row.owner} by {row.due_on}: {text}"


def _part(title: str, rows: Sequence[str]) -> list[str]:
    return [f"{title}:", *(f"    {row}" for row in rows)] if rows else []
