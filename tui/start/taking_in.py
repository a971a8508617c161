"""How a first start takes the practice's files in: one by one, each once its difference was seen.

A file that does not say what our columns say is guessed at first; the guess is shown, written
beside the file as the `[import]` part of a configuration, and used once somebody says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from recall.errors import InputError
from tui.dialogs.form import Field, Form, Values
from tui.words.text import cut, several

if TYPE_CHECKING:
    from recall.config import Import
    from recall.desk.core.session import Desk
    from recall.desk.imports.importing import Kind
    from recall.desk.imports.proposing import Proposal
    from recall.exchange.day_order import Order
    from recall.exchange.looking import Looked

FILES = ("people.csv", "visits.csv", "contacts.csv", "bookings.csv", "referrals.csv", "tests.csv")
YES, NO = "yes", "no"
ROW = 100
"""Letters of a first row that are shown."""
NAMED = 4


@dataclass(frozen=True)
class Going:
    """How far taking in has come."""

    folder: Path
    kinds: tuple[Kind, ...]
    """What has not landed yet, the next first."""
    told: tuple[str, ...] = ()
    imports: Import | None = None
    """The guessed mapping, once somebody said that it is right."""
    order: Order | None = None
    guessed: bool = False
    """Whether a guess at the next file was shown already."""

    @property
    def path(self) -> Path:
        """Return the next file."""
        return self.folder / f"{self.kinds[0]}.csv"


@dataclass(frozen=True)
class Waiting:
    """A file that waits for an answer: a difference, an order of dates, or a guess."""

    going: Going
    proposal: Proposal[Any] | None = None
    question: str = ""
    guess: Looked | None = None
    text: str = ""
    """The guess as the part of a configuration."""


Step = Waiting | str
"""What comes next: a question, or what came of all."""


def folder() -> Form:
    """Ask for the folder with the practice's files."""
    names = ", ".join(FILES)
    fields = (Field("folder", "Folder", value=str(Path.cwd()), needed=True, hint=f"with {names}"),)
    lines = (
        "People come first, then visits and what is told about them; what is missing is left out.",
        "You see what each file would do before anything of it lands.",
        "Rows that cannot be used go into a file beside each, with the reason.",
    )
    return Form("Take in the practice's files", fields, _begin, lines=lines, does="Look at them")


def sheet(step: Waiting) -> Form:
    """Ask what stands in the way of a file: nothing of it has landed yet."""
    if step.proposal is not None:
        return _difference(step, step.proposal)
    if step.guess is not None:
        return _guess(step, step.guess)
    choices = (("day", "the day"), ("month", "the month"))
    fields = (Field("order", "Which comes first in its dates", "choice", choices=choices),)

    def order(desk: Desk, values: Values) -> Step:
        return _next(desk, replace(step.going, order=values["order"]))

    title = f"{step.going.path.name}: its dates fit both ways"
    return Form(title, fields, order, lines=(step.question,), does="Go on")


def _difference(step: Waiting, proposal: Proposal[Any]) -> Form:
    from recall.desk.imports.difference_words import (
        does,
        recognises,
        takes_away,
        understood,
    )

    wanted = str(len(proposal.losses)) if proposal.losses else YES
    says = f"Type {wanted} to let it land, {NO} to leave it out"
    lines = (
        *understood(proposal),
        *(cut(row, ROW) for row in proposal.looks.first_rows),
        *does(proposal),
        *recognises(proposal, NAMED),
        *takes_away(proposal, NAMED),
    )

    def answer(desk: Desk, values: Values) -> Step:
        if _is_no(values, wanted):
            return _next(desk, _after(step.going, f"{proposal.kind}: left out"))
        return _next(desk, _land(_mapped(desk, step.going), step.going, proposal))

    return Form(
        _title(step), (Field("answer", says, needed=True),), answer, lines=lines, does="Go on"
    )


def _guess(step: Waiting, found: Looked) -> Form:
    fields = (Field("answer", f"Type {YES} to use it, {NO} to go without", needed=True),)

    def answer(desk: Desk, values: Values) -> Step:
        going = replace(step.going, guessed=True)
        if not _is_no(values, YES):
            going = replace(going, imports=_read(step.text, _mapped(desk, going)))
        return _next(desk, going)

    return Form(_title(step), fields, answer, lines=tuple(_guessed(step, found)), does="Go on")


def _title(step: Waiting) -> str:
    return f"{step.going.path.name}: nothing has landed yet"


def _guessed(step: Waiting, found: Looked) -> list[str]:
    """Return what was guessed of a file, in a few lines."""
    pairs = ", ".join(f"{ours} from {theirs}" for ours, theirs in found.headings.items())
    words = sum(map(len, found.values.values()))
    unknown = [w for counts in found.unknown.values() for w, _often in counts.most_common()]
    lines = ["Its headings or words are not ours. This is a guess: check it.", cut(pairs, 300)]
    lines.append(f"{several(words, 'word')} guessed, {len(unknown):,} not known.")
    if unknown:
        lines.append(cut(f"Not known: {', '.join(unknown)}", ROW))
    if found.left:
        lines.append(cut(f"Nothing is read from: {', '.join(found.left)}", ROW))
    return [*lines, f"The whole guess, to be checked and kept with the settings: {_place(step)}"]


def _place(step: Waiting) -> Path:
    return step.going.folder / f"{step.going.kinds[0]}-mapping.toml"


def _is_no(values: Values, wanted: str) -> bool:
    """Return whether the answer is no.

    Raises:
        InputError: it is neither no nor what is wanted.
    """
    answer = values["answer"].casefold()
    if answer not in (wanted, NO):
        raise InputError(f"Nothing has landed: type {wanted}, or {NO}.")
    return bool(answer == NO)


def _begin(desk: Desk, values: Values) -> Step:
    from recall.desk.imports.importing import IMPORTERS

    folder = Path(values["folder"]).expanduser()
    there = tuple(kind for kind in IMPORTERS if (folder / f"{kind}.csv").is_file())
    if not there:
        raise InputError(f"None of {', '.join(FILES)} is in {folder}.", hint="Check the folder.")
    return _next(desk, Going(folder, there))


def _next(desk: Desk, going: Going) -> Step:
    """Return what the next file asks, or what came of all."""
    while going.kinds:
        step = _look(_mapped(desk, going), going)
        proposal = step.proposal
        if proposal is None or _tells(proposal):
            return step
        going = _land(_mapped(desk, going), going, proposal)
    return f"{several(len(going.told), 'file')}. {'; '.join(going.told)}."


def _tells(proposal: Proposal[Any]) -> bool:
    """Return whether there is anything to see before a file lands."""
    return bool(proposal.changes_anything or proposal.losses or proposal.rejected)


def _look(desk: Desk, going: Going) -> Waiting:
    from recall.desk.imports.asking_order import WhichOrder
    from recall.desk.imports.proposing import propose

    try:
        proposal = propose(desk, going.path, going.kinds[0], order=going.order)
    except WhichOrder as question:
        return Waiting(going, question=question.message)
    except InputError:
        if (guess := _guess_of(desk, going)) is not None:
            return guess
        raise
    if proposal.rejected and (guess := _guess_of(desk, going)) is not None:
        return guess
    return Waiting(going, proposal)


def _guess_of(desk: Desk, going: Going) -> Waiting | None:
    """Return a guess at how a file is mapped, where nobody mapped its kind; written beside it."""
    from recall import output
    from recall.exchange import looking
    from recall.exchange.cells import Cells
    from recall.exchange.columns import KINDS

    kind, given = going.kinds[0], getattr(desk.config.imports, going.kinds[0])
    if going.guessed or given.headings or given.values or given.words:
        return None
    cells = Cells(desk.config.imports.date_format, desk.config.calendar.country, desk.today)
    found = looking.look(going.path, KINDS[kind], cells)
    ours = {column for column, heading in found.headings.items() if column != heading}
    if not (ours or found.values):
        return None
    text = looking.as_toml([found], looking.order_guessed(found, cells.date_format))
    step = Waiting(going, guess=found, text=text)
    output.write(_place(step), text.encode(), named_here=True)
    return step


def _read(text: str, desk: Desk) -> Import:
    """Return the settings with a guess in them: of its kind alone."""
    import tomllib

    from recall.config import Import

    guessed = msgspec.convert(tomllib.loads(text)["import"], Import)
    (kind,) = (k for k in tomllib.loads(text)["import"] if k != "date_format")
    mine = msgspec.structs.replace(getattr(guessed, kind), date_format=guessed.date_format)
    return msgspec.structs.replace(desk.config.imports, **{kind: mine})


def _mapped(desk: Desk, going: Going) -> Desk:
    if going.imports is None:
        return desk
    return replace(desk, config=msgspec.structs.replace(desk.config, imports=going.imports))


def _land(desk: Desk, going: Going, proposal: Proposal[Any]) -> Going:
    """Let a file land as it was shown, and plan whoever it is about."""
    from recall.desk.core.replanning import replan
    from recall.desk.imports.landing import land
    from recall.desk.plans.passing_time import settle

    came = land(desk, proposal, len(proposal.losses) or None)
    replan(desk)
    settle(desk)
    sent_back = f", {came.rejected} sent back" if came.rejected else ""
    return _after(going, f"{proposal.kind}: {came.added + came.changed} taken in{sent_back}")


def _after(going: Going, told: str) -> Going:
    return replace(
        going, kinds=going.kinds[1:], told=(*going.told, told), order=None, guessed=False
    )
