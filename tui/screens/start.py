"""Today: how much there is, what needs attention, and on a first start where to begin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from textual.containers import VerticalScroll
from textual.content import Content
from textual.style import Style
from textual.widget import Widget
from textual.widgets import Static

from recall.errors import ConfigError, RecallError, StorageError
from tui.commands.table import AREAS
from tui.dialogs.text_sheet import TextSheet
from tui.register.once import once
from tui.screens.live import LiveScreen
from tui.start import first_steps, taking_in
from tui.widgets.words import Words
from tui.words.text import cut, literal, plain, wrapped

if TYPE_CHECKING:
    from recall.desk.oversight.glance import Counts

FIRST_STEPS = """\
The register is empty. Begin in one of these ways:"""
WIDTH = 76
LATER = 2.0
"""Seconds after which what concerns everybody is read where somebody went on at once."""


@dataclass(frozen=True)
class Choice:
    """One way to go on, with the action that does it."""

    words: str
    action: str


class StartScreen(LiveScreen):
    """The first screen, and the one that Escape leads to."""

    WHERE = "start"
    REFILL_ON_RETURN = True
    HELP = """\
How much there is to do today, and what needs attention. Enter begins with the first line.
F-keys lead to the areas of the desk from anywhere, Escape leads back here, and nothing that
you typed is lost on the way. Ctrl+P looks for any command by its name.
This is an administrative tool: it applies the protocol that the practice has adopted, and
does not diagnose. Local pathways and the judgement of licensed clinicians come first."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        super().__init__()
        self.choices: tuple[Choice, ...] = ()

    def body(self) -> Iterable[Widget]:
        """Give the one text of this screen."""
        yield VerticalScroll(Words(literal("Opening the register …"), id="today"), classes="body")

    def refill(self) -> None:
        """Read how much there is; at the desk's start first of all at a glance."""
        if self.app.can_glance:
            self.run_outside(self.app.glance, self._glanced, lambda _error: self._look())
        else:
            self._look()

    def _glanced(self, counts: Counts | None) -> None:
        """Show the counts, and only then open the desk, which takes longer."""
        if counts is not None and not counts.is_empty:
            self._count(counts)
        self.call_after_refresh(self._look)

    def _look(self) -> None:
        """Count; whoever has gone on meanwhile waits for none of it, and it is read on return."""
        look = partial(first_steps.look, is_wanted=lambda: not self._was_left)
        self.read("today", look, self._show, self._not_open)

    def _show(self, counts: Counts | None) -> None:
        self.went_well()
        self.headline()
        if counts is None:  # whoever went on waits for another list: first that, then what is said
            once(self, LATER, self._ask_what_is_said)
            return
        self._ask_what_is_said()
        if counts.is_empty:
            self._first_start()
        else:
            self._count(counts)

    def _ask_what_is_said(self) -> None:
        self.read("announced", first_steps.announcements, self._announce)

    def _announce(self, said: tuple[str, ...]) -> None:
        self.app.announce(said)
        self.read("days", first_steps.know_the_days, lambda _nothing: None)

    def _count(self, counts: Counts) -> None:
        self.choices = (Choice("Begin with the calls", "app.go('queue')"),)
        if counts.history:
            self.choices += (Choice("Look through the history", "screen.history"),)
        counted = [_counted(line) for line in first_steps.lines(counts)]
        areas = [_area(area.keys, area.words, area.says) for area in AREAS[1:]]
        self._lay_out("Today", counted, [Content(""), *areas])

    def _first_start(self) -> None:
        self.choices = (
            Choice("Take in the practice's files", "screen.take_in"),
            Choice("Look round in an invented practice, thrown away afterwards", "screen.demo"),
        )
        self._lay_out("Welcome", [literal(FIRST_STEPS)], [])

    def _not_open(self, error: RecallError) -> None:
        """Say why the register is not there, and how to go on."""
        self.app.announce(())
        choices = [Choice("Try again", "screen.again")]
        if isinstance(error, StorageError) and self.app.can_set_up:
            choices.append(Choice("Make the database, or bring it up to date", "screen.set_up"))
        choices.append(Choice("Look round in an invented practice meanwhile", "screen.demo"))
        self.choices = tuple(choices)
        what = "configuration" if isinstance(error, ConfigError) else "register"
        said = [literal(f"! {line}", "bold $desk-alarm") for line in wrapped(error.message, WIDTH)]
        said += [literal(line) for line in wrapped(error.hint, WIDTH) if line]
        self._lay_out(f"The {what} cannot be used yet", said, [])

    def _lay_out(self, title: str, lines: Iterable[Content], after: Iterable[Content]) -> None:
        parts = [Content(""), literal(f"  {title}".rstrip(), "bold $desk-lead"), Content("")]
        parts[1] = Content("  ") + literal(title, "bold $desk-lead")
        parts += [Content("  ") + line for line in lines]
        parts.append(Content(""))
        parts += [_choice(n, choice) for n, choice in enumerate(self.choices, 1)]
        parts += [Content("  ") + line for line in after]
        self.query_one("#today", Static).update(Content("\n").join(parts))

    async def _do(self, place: int) -> None:
        if place < len(self.choices):
            await self.run_action(self.choices[place].action)

    async def action_first(self) -> None:
        """Do what the first line says."""
        await self._do(0)

    async def action_second(self) -> None:
        """Do what the second line says."""
        await self._do(1)

    async def action_third(self) -> None:
        """Do what the third line says."""
        await self._do(2)

    def action_new_person(self) -> None:
        """Write down somebody new."""
        from tui.people.entering import enter_somebody

        enter_somebody(self)

    def action_again(self) -> None:
        """Open the register anew and read it."""
        self.app.reopen()
        self.refill()

    def action_said(self) -> None:
        """Show all that concerns everybody at this desk, whole."""
        said = Content("\n\n").join([literal(f"! {each}") for each in self.app.announcements])
        text = said if self.app.announcements else literal("Nothing is said at the top.")
        self.app.push_screen(TextSheet("What needs attention", text))

    def action_set_up(self) -> None:
        """Make the database."""
        self.say("Making the database …")
        self.run_outside(self.app.set_up, self._set_up_done)

    def _set_up_done(self, _nothing: object) -> None:
        self.action_again()

    def action_demo(self) -> None:
        """Leave this register and open the invented practice."""
        self.app.exit("demo")

    def action_history(self) -> None:
        """Look through what was asked for before the practice went live."""
        from tui.screens.changeover import ChangeoverScreen

        self.app.push_screen(ChangeoverScreen())

    def action_take_in(self) -> None:
        """Take in the practice's files, each once its difference was seen."""
        self.app.push_screen(taking_in.folder(), self._taken_in)

    def _taken_in(self, step: taking_in.Step | None) -> None:
        """Go on with the next file, or say what came of all; what has landed stays."""
        if isinstance(step, taking_in.Waiting):
            self.app.push_screen(taking_in.sheet(step), self._taken_in)
            return
        if step:
            self.say(step)
        self.refill()


def _counted(line: first_steps.Line) -> Content:
    """Return a count with its words and where it leads."""
    count = ("…" if line.count is None else f"{line.count:,}").rjust(6)
    style = f"bold $desk-{line.kind}" if line.kind and line.count else "bold"
    sign = "! " if line.kind == "alarm" and line.count else "  "
    return Content.assemble(
        (sign, style), (count, style), f"  {line.said}", (f"  {line.more}", "$desk-quiet")
    )


def _choice(number: int, choice: Choice) -> Content:
    click = Style.from_meta({"@click": choice.action})
    key = "Enter" if number == 1 else f"{number}"
    return Content("  ") + Content.assemble(
        (cut(key, 7), "bold $desk-key"), (plain(choice.words), "bold")
    ).stylize(click)


def _area(keys: str, words: str, says: str) -> Content:
    key = keys.partition(",")[0].upper()
    return Content.assemble((cut(key, 7), "bold $desk-key"), cut(words, 10), (says, "$desk-quiet"))
