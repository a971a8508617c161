"""Everything on one person as lines of text, section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from textual.content import Content

from recall.care.dates import age_on
from recall.care.services import to_whom
from tui.calls.acts import booked
from tui.people.matters import late
from tui.words.signs import loud, says_status
from tui.words.text import cut, full_day, literal, plain, several, wrapped

if TYPE_CHECKING:
    from recall.desk.people.person_card import PersonCard, VisitFindings
    from recall.desk.worklists.open_items import OpenFollowUp, OpenReferral

Lines = Iterator[Content]
AWAITED = {
    "sent": "Not known to be sent yet",
    "gp_acted": "Not known whether the GP has acted",
    "accepted": "Not known to be accepted yet",
    "seen": "Not known to be seen there yet",
    "result": "The result is not back yet",
    "decision": "A decision is awaited",
    "look_through": "From before the practice went live: not looked through yet",
}
"""What is awaited of a referral, by its earliest stage that is not known."""
NOT_SHOWN = "What was seen in the ears is shown to whoever examines them."
SAFE_WORDS = {"yes": "", "only_this": "ONLY this one is safe", "no": "NOT SAFE: do not use"}


def top(card: PersonCard, today: date, width: int) -> Lines:
    """Name, birth date and postcode together, and what stops everything."""
    known = f"  known as {plain(card.known_as)}" if card.known_as else ""
    yield Content.assemble(
        (cut(card.name, width - len(known) - 1).rstrip(), "bold $desk-lead"), known
    )
    years = age_on(card.born, today)
    yield Content.assemble(
        "born ",
        (full_day(card.born), "bold"),
        f" ({years}{', a child' if years < 16 else ''})  ",
        (plain(_postcode(card)), "bold"),
        (f"  {plain(card.ref)}", "$desk-quiet"),
    )
    for each in card.rung[:1]:
        yield from _wrap(each, width, "bold $desk-lead")
    if card.spoken:
        yield from _wrap(f"Today: {card.spoken}", width, "bold $desk-warn")
    for each in card.warnings:
        yield from _wrap(f"! {each}", width, "bold $desk-alarm")
    if card.caller_note:
        yield from _wrap(f"! Before contact: {card.caller_note}", width, "bold $desk-warn")
    for note in card.notes[:1]:
        yield from _wrap(f"Note, {full_day(note.on)}: {note.words}", width, "bold $desk-warn")


def _postcode(card: PersonCard) -> str:
    found = [way.postcode for way in card.contact_points if way.kind == "address" and way.postcode]
    return found[0] if found else "no postcode"


def now_open(card: PersonCard, today: date, width: int) -> Lines:
    """What is open, and what whoever treats the ears must know."""
    for caution in card.cautions:
        yield from _wrap(f"! {caution}", width, "bold $desk-warn")
    yield from _matters(card, today, width)
    if card.referrals:
        yield _heading(several(len(card.referrals), "referral") + " open")
    for referral in card.referrals:
        yield from _referral(referral, width)
    yield _heading(several(len(card.follow_ups), "follow-up") + " open")
    for each in card.follow_ups:
        yield from _follow_up(each, width, clinical=card.clinical)
    for loose in card.loose:
        day = full_day(loose.starts_local.date())
        yield from _wrap(
            f"! Booked for {day} at {loose.starts_local:%H:%M}, for what is closed by now: "
            "keep it, or call it off with b.",
            width,
            "bold $desk-warn",
        )
    if card.judged:
        yield _heading("Struck out or lowered, until that ear is worse")
    for judged in card.judged:
        yield from _dated(judged.on, f"{judged.words}; by {judged.by} [{judged.number}]", width)
    if not card.follow_ups and not card.referrals:
        yield from _wrap("Nothing is open. The person comes back if something changes.", width)


def _matters(card: PersonCard, today: date, width: int) -> Lines:
    """What somebody sees to about them."""
    for matter in card.matters:
        told = f"{matter.title}, {matter.owner}, {late(matter, today)}: {matter.text}"
        kind = "$desk-alarm" if matter.late_by_days else "$desk-lead"
        yield from _wrap(told, width, kind)


def _follow_up(each: OpenFollowUp, width: int, *, clinical: bool) -> Lines:
    ears = " and ".join(each.ears)
    tracks = each.tracks if clinical else ("follow-up",)
    what = ", ".join(plain(track).replace("_", " ") for track in tracks)
    late = f", {several(each.late_by_days, 'day')} late" if each.late_by_days else ""
    kind = "alarm" if each.late_by_days else "ink"
    yield from _wrap(
        f"{loud(each.urgency)}  {what}, {ears} ear{'s' * (len(each.ears) > 1)}", width, "bold"
    )
    window = (
        f"{full_day(each.earliest)} to {full_day(each.latest)}, best {full_day(each.target)}{late}"
    )
    yield from _wrap(window, width, f"$desk-{kind}", indent=2)
    for says in each.says:
        yield from _wrap(says, width, indent=2)
    when = ", ".join(filter(None, (says_status(each.status), booked(each.appointment, whole=True))))
    yield from _wrap(f"{when}. {full_day(each.on)}: {each.why}", width, indent=2)
    if each.ahead:
        told = f"If nobody is heard from: {'; '.join(each.ahead)}."
        yield from _wrap(told, width, "$desk-quiet", indent=2)


def _referral(each: OpenReferral, width: int) -> Lines:
    yield from _wrap(f"{loud(each.urgency)}  to {to_whom(each.to, each.ears)}", width, "bold")
    chase = f"{full_day(each.chase_on)}: " if each.chase_on else ""
    awaited = AWAITED.get(each.stage, each.stage)
    yield from _wrap(f"{awaited}. {chase}{each.why}", width, indent=2)


def ears(card: PersonCard, today: date, width: int) -> Lines:
    """Both ears side by side, the newest visit first."""
    for line in card.history:
        yield from _wrap(line, width, "$desk-warn")
    if not card.visits:
        yield from _wrap("No visit is recorded.", width)
    if not card.clinical:
        yield from _wrap(NOT_SHOWN, width)
        for visit in card.visits:
            yield _seen(visit)
        return
    half = (width - 3) // 2
    for visit in card.visits:
        yield from _visit(visit, half)


def _seen(visit: VisitFindings) -> Content:
    return _heading(f"{full_day(visit.on)}, seen by {plain(visit.examiner)}")


def _visit(visit: VisitFindings, half: int) -> Lines:
    yield _seen(visit)
    yield Content.assemble((cut("right ear", half), "bold"), " │ ", (cut("left ear", half), "bold"))
    right, left = (_column(lines, half) for lines in (visit.right, visit.left))
    for n in range(max(len(right), len(left), 1)):
        sides = [cut(lines[n] if n < len(lines) else "", half) for lines in (right, left)]
        yield Content(" │ ".join(sides))
    if visit.note:
        yield from _wrap(f"Note: {plain(' '.join(visit.note.split()))}", half * 2 + 3)


def _column(lines: Sequence[str], width: int) -> list[str]:
    if not lines:
        return ["not recorded"]
    return [part for line in lines for part in wrapped(line, width)]


def contact_points(card: PersonCard, today: date, width: int) -> Lines:
    """How to reach the person and whom to ask for; needs and risks."""
    names = {adult.id: adult.name for adult in card.adults}
    yield _heading("How to reach them")
    if not card.contact_points:
        yield from _wrap("! Nothing is recorded.", width, "bold $desk-alarm")
    for n, way in enumerate(card.contact_points, 1):
        whose = f"{plain(names.get(way.adult_id, 'an adult'))}, " if way.adult_id else ""
        label = f" ({way.label})" if way.label else ""
        yield from _wrap(f"{n}  {whose}{way.kind}{label}: {way.raw}", width)
        wrong = f"wrong: {way.problem}" if way.problem else ""
        for told in filter(None, (SAFE_WORDS.get(way.safe, way.safe), wrong, way.note)):
            yield from _wrap(f"! {told}", width, "bold $desk-alarm", indent=3)
    yield _heading("Who answers for them")
    for adult in card.adults:
        instead = ", letters go to them instead" if adult.instead else ""
        relation = f", {adult.relation}" if adult.relation else ""
        yield from _wrap(f"{adult.name}{relation}: {adult.role.replace('_', ' ')}{instead}", width)
    if not card.adults:
        yield from _wrap("Themselves; nobody else is recorded.", width)
    yield from _needs(card, width)


def _needs(card: PersonCard, width: int) -> Lines:
    if card.site:
        yield from _wrap(f"Site: {card.site}", width)
    yield _heading("What they need")
    yield from _wrap(f"Language: {card.language or 'not recorded'}. Letters: {card.format}.", width)
    for need in card.needs:
        yield from _wrap(f"! {need}", width, "bold $desk-warn")
    if card.caller_note:
        yield from _wrap(f"! Before contact: {card.caller_note}", width, "bold $desk-warn")
    yield from _wrap(f"GP: {card.gp or 'not recorded'}", width)
    yield _heading("Risks")
    for risk in card.risks:
        ear = f", {risk.ear} ear" if risk.ear else ""
        span = " ".join(
            filter(
                None, (risk.since and f"since {risk.since}", risk.until and f"until {risk.until}")
            )
        )
        yield from _wrap(f"{plain(risk.what).replace('_', ' ')}{ear} {span}", width)
    if not card.risks:
        yield from _wrap("None is recorded; that is not the same as none.", width)


def tried(card: PersonCard, today: date, width: int) -> Lines:
    """Contacts and letters, the newest first."""
    if not card.tried:
        yield from _wrap("Nobody has tried to reach them yet.", width)
    for each in card.tried:
        yield from _dated(each.on, each.words, width)


def notes(card: PersonCard, today: date, width: int) -> Lines:
    """What was written down, the newest first."""
    if not card.notes:
        yield from _wrap("Nothing is written down.", width)
    for each in card.notes:
        yield from _dated(each.on, each.words, width)


Section = Callable[["PersonCard", date, int], Lines]
SECTIONS: tuple[tuple[str, Section], ...] = (
    ("Open", now_open),
    ("Ears", ears),
    ("Reach", contact_points),
    ("Tried", tried),
    ("Notes", notes),
)
"""The sections in the order of their digits."""


def _heading(text: str) -> Content:
    return literal(text, "bold $desk-lead")


def _dated(on: date, text: str, width: int) -> Lines:
    for n, line in enumerate(wrapped(text, width - 13)):
        day = full_day(on) if n == 0 else ""
        yield Content.assemble((cut(day, 13), "$desk-quiet"), line)


def _wrap(text: str, width: int, style: str = "", *, indent: int = 0) -> Lines:
    for line in wrapped(text, width - indent):
        yield Content(" " * indent) + Content.styled(line, style)
