"""The sheets of the visit form: each gives another state of the form, and stores nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, get_args

import msgspec

from recall.care.case import URGENCIES, Case, Category
from recall.care.clear_ear import Hears, Seen, Wax, normal_values
from recall.care.ear import SIDES, Side
from recall.errors import InputError
from recall.schedule.plan import BECAUSE_WORDS, Decision, Due, FollowUp, Plan
from recall.schedule.plan_lines import Judgement, Line, lines_of
from tui.dialogs.digits import Digits, Question
from tui.dialogs.form import Field as FormField
from tui.dialogs.form import Form, Values
from tui.ears.fields import BY_NAME, FIELDS, Field
from tui.ears.form import VisitForm, form_of, write
from tui.ears.shortcut import SEEN, Shortcut, clear
from tui.ears.text import show_field
from tui.visits.judging import with_judged
from tui.words.text import full_day, plain, short_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.people.ear_history import EarHistory

REASONS = tuple((word, text) for word, text in BECAUSE_WORDS.items())[::-1]
"""Of the short list, the usual one first."""
NO_DAY = date(2000, 1, 1)
"""Until the register is open."""
FOUND: tuple[tuple[Wax, str], ...] = (
    ("none", "no wax"),
    ("some", "some"),
    ("partial", "partial: a part of the canal was blocked"),
    ("occluding", "occluding: the canal was blocked"),
)
HEARS = (
    ("better", "better than before"),
    ("same", "the same"),
    ("worse", "worse"),
    ("", "not asked, or not alike in both: type it at “Hears after”"),
)
CATEGORY_WORDS: dict[str, str] = {
    "fluid_recheck": "Look at the fluid again",
    "retraction_watch": "Watch the retraction",
    "wax_routine": "Wax, routine",
    "wax_retry": "Wax, try again",
    "healing_check": "Look whether it heals",
    "skin_check": "Canal skin, look again",
    "grommet_check": "Grommet check",
    "cavity_care": "Care of the cavity",
    "hearing_check": "Hearing test",
    "view_retry": "Drum not seen, look again",
    "refer": "Refer",
    "come_back_if": "Come back if it is worse",
}


def typing(form: VisitForm, side: Side, row: Field, begin: str) -> Form:
    """Return the sheet on which text is typed into one cell."""
    now = begin or show_field(row, getattr(form.ear(side), row.name))

    def store(_desk: object, values: Values) -> VisitForm:
        return write(form, side, row, values["text"])

    field = FormField("text", f"{row.label}, {side} ear", value=now, hint=row.hint)
    return Form(f"{side.capitalize()} ear", [field], store, does="Enter Write it")


def clear_sheet(sides: Sequence[Side]) -> Digits:
    """Return the questions of the shortcut: what was found, what was seen, how they hear now."""
    which = "both ears" if len(sides) > 1 else f"the {sides[0]} ear"

    def hears(given: Sequence[str]) -> Question:
        if given[0] == "none":
            return Question("Nothing was taken out, so there is no after.", (("", "go on"),))
        return Question(f"With {which}, they hear now …", HEARS)

    return Digits(
        f"Clear: {which}",
        (
            Question("What wax was found, and cleared?", FOUND),
            Question("What did you really see?", SEEN),
            hears,
        ),
    )


def cleared(
    form: VisitForm, given: tuple[str, ...], before: Case, sides: tuple[Side, ...]
) -> Shortcut:
    """Return what the shortcut makes of the form."""
    found: Wax = next(word for word, _ in FOUND if word == given[0])
    seen: Seen = next(word for word, _ in SEEN if word == given[1])
    hears = next((h for h in get_args(Hears) if h == given[2]), None)
    return clear(form, normal_values(found, seen, hears), before, sides)


def kept_open(made: Shortcut, before: VisitForm, side: Side, row: Field) -> VisitForm:
    """Return what a shortcut made, with one cell as it was typed: that one is typed by itself."""
    typed = [name for name in row.covers if (side, name) not in before.written]
    was = dict.fromkeys(row.covers) | {name: getattr(before.ear(side), name) for name in typed}
    form = made.form.with_ear(side, msgspec.structs.replace(made.form.ear(side), **was))
    return replace(form, written=form.written - {(side, name) for name in row.covers})


def left_open_words(made: Shortcut) -> str:
    """Return what the shortcut left to be looked at, in words."""
    if not made.left_open:
        return ""
    return f"Not normal last time, so type what you see: {', '.join(_named(made.left_open))}."


def kept_words(made: Shortcut) -> str:
    """Return in words what the shortcut wrote anew, and what was typed and stays."""
    anew = "Answered anew." if made.is_anew else ""
    cells = _named(made.kept)
    more = f" and {len(cells) - 2} more" if len(cells) > 2 else ""
    kept = f"Kept as typed: {', '.join(cells[:2])}{more}." if cells else ""
    return " ".join(filter(None, (anew, kept)))


def _named(cells: Sequence[tuple[Side, str]]) -> list[str]:
    return [f"{side} {BY_NAME[name].label.lower()}" for side, name in cells]


def place_of(name: str) -> int:
    """Return the place of a field among the rows."""
    return FIELDS.index(BY_NAME[name])


OFTEN = ("grommet", "attic_grade")
"""Typed far more often than what begins with the same letters. Common practice."""


def places_by_letters(letters: str) -> list[int]:
    """Return the places of the findings whose name has a word that begins so, the likeliest first.

    The first words of the form come before its others, and these before those of the case file:
    `pe` finds a perforation.
    """
    places = sorted(range(len(FIELDS)), key=lambda n: FIELDS[n].name not in OFTEN)
    found = [n for n in places if FIELDS[n].label.lower().startswith(letters)]
    found += [n for n in places if n not in found and _has_word(FIELDS[n].label, letters)]
    return found or [n for n in places if _has_word(FIELDS[n].name, letters)]


def _has_word(name: str, letters: str) -> bool:
    words = name.lower().replace("_", " ").replace("(", " ").split()
    return any(word.startswith(letters) for word in words)


_WHICH = (("", "both"), ("right", "right"), ("left", "left"))


def _which(form: VisitForm) -> str:
    ears = form.category_ears or ears_of(form)
    return ears[0] if len(ears) == 1 else ""


def noting(form: VisitForm) -> Form:
    """Return the sheet for the note."""

    def store(_desk: object, values: Values) -> VisitForm:
        return replace(form, note=values["note"], letter_words=values["letter_words"])

    fields = [
        FormField("note", "Note", value=form.note, hint="searched for words of alarm"),
        FormField(
            "letter_words",
            "In letters",
            value=form.letter_words,
            hint="your words to whom you refer",
        ),
    ]
    return Form("Note on this visit", fields, store, does="Enter Keep it")


def suggested(plan: Plan | None) -> str | None:
    """Return the category that the findings suggest: of the most pressing ask, the earliest.

    None, where they ask for nothing and something dated stands.
    """
    if plan is None:
        return None
    if any(r.asked_on == plan.on for r in plan.referrals):
        return "refer"
    dues = [d for f in plan.follow_ups for d in f.dues if d.asked_on == plan.on]
    best = min(dues, key=lambda d: (URGENCIES.index(d.urgency), d.latest), default=None)
    if best is not None:
        return best.category
    stands = plan.follow_ups or plan.referrals
    return "come_back_if" if plan.advice and not stands else None


def category(form: VisitForm, plan: Plan | None) -> Form:
    """Return the sheet on which another kind of follow-up is set, with its reason.

    It takes the place of the line that is chosen: at first the one that the findings suggest.
    """
    first, lines = suggested(plan), replaceable(form, plan)

    def store(_desk: object, values: Values) -> VisitForm:
        return _with_category(form, first, values)

    fields = [
        _kinds(form, first),
        FormField("ear", "Which ear", "choice", choices=_WHICH, value=_which(form)),
        FormField("why", "Why another than the findings suggest", value=form.category_why),
        FormField(
            "replaces",
            "In place of",
            "choice",
            value=form.replaces or _replaced(form, lines, first),
            choices=[("", "nothing: beside all that"), *((n, w) for n, w, _ in lines)],
        ),
    ]
    return Form("Kind of follow-up", fields, store, does="Set it")


def _kinds(form: VisitForm, first: str | None) -> FormField:
    """Return the field of the kinds of follow-up, the suggested one marked."""
    words = [(kind, CATEGORY_WORDS[kind]) for kind in get_args(Category)]
    return FormField(
        "category",
        "Kind of follow-up",
        "choice",
        value=form.category or first or "",
        choices=[(w, f"{text} (suggested)" if w == first else text) for w, text in words],
        hint="a letter leads on",
    )


def _with_category(form: VisitForm, first: str | None, values: Values) -> VisitForm:
    """Return the form with the kind of follow-up that was chosen."""
    chosen, why = values["category"], values["why"]
    kept = tuple(each for each in form.judged if each[0] != form.replaces)
    bare = replace(form, judged=kept, replaces="")
    if chosen == first:
        return replace(bare, category=None, category_why="", category_ears=())
    if not why:
        raise InputError("Another kind needs its reason.", hint="Say why, in a few words.")
    ears = (values["ear"],) if values["ear"] else SIDES
    made = replace(bare, category=chosen, category_why=why, category_ears=ears)
    if not values["replaces"]:
        return made
    struck = Judgement("strike", "judgement", why)
    return replace(with_judged(made, values["replaces"], struck), replaces=values["replaces"])


Replaceable = tuple[str, str, Line | None]


def replaceable(form: VisitForm, plan: Plan | None) -> list[Replaceable]:
    """Return the lines whose place another kind can take: name, words, and the line.

    An emergency is not among them: it is struck out by itself, with what explains it.
    """
    found: list[Replaceable] = [
        (line.name, line.words(), line)
        for line in (lines_of(plan) if plan is not None else ())
        if line.urgency != "emergency"
        and not any(rule.startswith("category-") for _, _, rule in line.parts())
    ]
    if form.replaces:
        found.append((form.replaces, form.replaces.replace(":", ", "), None))
    return found


def _replaced(form: VisitForm, lines: Sequence[Replaceable], first: str | None) -> str:
    """Return the line that the suggested kind stands for, where this visit asks for it."""
    for name, _, line in lines:
        if line is None or line.asked_on != form.on or line.urgency == "urgent":
            continue
        if (line.dues[0].category if line.dues else "refer") == first:
            return name
    return ""


def dates(form: VisitForm, follow_up: FollowUp) -> Form:
    """Return the sheet on which the days of one date of the plan are changed."""
    days = {n: getattr(follow_up, n) for n in ("earliest", "target", "latest")}
    fields = [
        FormField(n, n.capitalize(), "day", value=f"{day:%d/%m/%Y}", needed=True)
        for n, day in days.items()
    ]
    fields.append(FormField("because", "Why", "choice", choices=REASONS, hint="a letter leads on"))
    fields.append(FormField("why", "More words"))

    def store(_desk: object, values: Values) -> VisitForm:
        if not values["earliest"] <= values["target"] <= values["latest"]:
            raise InputError(
                "The days are out of order.", hint="Earliest, then target, then latest."
            )
        moves = tuple(_move(form, due, values) for due in follow_up.dues)
        return replace(form, moves=_newest((*form.moves, *moves)))

    about = [f"{due.ear} {due.track.replace('_', ' ')}: {due.says}" for due in follow_up.dues]
    return Form("Other days for this", fields, store, lines=about, does="Change them")


def _move(form: VisitForm, due: Due, values: Values) -> Decision:
    return Decision(
        on=form.on,
        ear=due.ear,
        track=due.track,
        kind=due.kind,
        action="move",
        earliest=values["earliest"],
        target=values["target"],
        latest=values["latest"],
        because=values["because"],
        why=values["why"],
    )


def _newest(moves: Sequence[Decision]) -> tuple[Decision, ...]:
    """Return the last of the moves of each due."""
    last = {(m.ear, m.track, m.kind): m for m in moves}
    return tuple(last.values())


def follow_up_choices(plan: Plan, today: date) -> list[tuple[str, str]]:
    """Return the dates of a plan as choices."""
    return [
        (str(n), f"{short_day(f.target, today)}  {', '.join(f.tracks)}".replace("_", " "))
        for n, f in enumerate(plan.follow_ups)
    ]


def kind_words(form: VisitForm, plan: Plan | None) -> str:
    """Return the kind of follow-up as the form shows it."""
    if form.category is not None:
        return f"{CATEGORY_WORDS[form.category]} (yours: {plain(form.category_why)})"
    first = suggested(plan) if not form.is_empty else None
    return f"{CATEGORY_WORDS[first]} (suggested)" if first else "—"


def ears_of(form: VisitForm) -> tuple[Side, ...]:
    """Return the ears of which anything was typed."""
    return tuple(side for side in SIDES if getattr(form.visit, side) is not None)


VOID = "void "
"""Before a visit's number where it is to be voided."""


def earlier_choices(known: EarHistory) -> list[tuple[str, str]]:
    """Return the earlier visits as choices, the last one first: put right, or void."""
    last = sorted(known.visit_ids, reverse=True)[:4]
    right = [(str(n), f"put right: {full_day(on)}, visit #{n}") for on, n in last]
    void = [(f"{VOID}{n}", f"void: {full_day(on)}, visit #{n}") for on, n in last]
    return [*right, *void]


def voiding(number: int) -> Form:
    """Return the sheet that voids a visit."""

    def store(desk: Desk, values: Values) -> str:
        from recall.desk.visits.closing import void_visit

        return void_visit(desk, number, values["why"]).words

    line = "The row stays, with the reason; the person is planned again without it."
    return Form(
        f"Void visit #{number}", [FormField("why", "Why", needed=True)], store, lines=[line]
    )


def earlier(desk: Desk, *, number: int) -> VisitForm:
    """Return the form of an earlier visit that is to be put right."""
    from recall.desk.visits.finding import find_visit

    found, visit, _person = find_visit(desk, f"#{number}")
    return form_of(visit, found)
