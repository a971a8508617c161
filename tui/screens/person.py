"""One person: everything about them, section by section, and what can be changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.style import Style
from textual.widget import Widget
from textual.widgets import Static

from recall.desk.contacts.entries import Attempt
from recall.errors import RecallError
from tui.calls import acts
from tui.calls.undo import ask_undo
from tui.dialogs.choose import Choice, Choose
from tui.dialogs.hand_over import HandOver
from tui.people import changes, matters, own_acts
from tui.people.card import NOT_SHOWN, SECTIONS, top
from tui.people.entering import correction
from tui.screens.live import LiveScreen
from tui.widgets.words import Words
from tui.words.text import literal, wrapped

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard

NEWLINE = Content("\n")
WIDE = 110
JUST = 4
"""Lines of what was done last, at the most."""
BESIDE = 1
"""The section that stands beside the chosen one where there is room: the ears."""


class PersonScreen(LiveScreen):
    """Everything about one person."""

    WHERE = "person"
    REFILL_ON_RETURN = True
    HELP = """\
Name, birth date and postcode stand together at the top: check them. The digits lead from
section to section: what is open, both ears, how to reach the person, what was tried, notes.
What begins with “!” is to be known before anything is done.
Right and left are always those of the person."""

    def __init__(self, ref: str, just: str = "") -> None:
        """Show the person with a reference, and what was just done about them."""
        super().__init__()
        self.ref, self.just = ref, just
        self.card: PersonCard | None = None
        self.section = 0

    def body(self) -> Iterable[Widget]:
        """Give the top, the names of the sections, and one or two of them."""
        yield Static(literal("Reading …"), id="top")
        yield Words(id="sections")
        with Horizontal(classes="body"):
            yield VerticalScroll(Static(id="chosen"), id="left", can_focus=False)
            yield VerticalScroll(Static(id="beside"), id="right", can_focus=False)
        yield Static(id="just")

    def refill(self) -> None:
        """Read everything on the person."""
        self.read("person", partial(_card, ref=self.ref), self._show)

    def on_resize(self) -> None:
        """Show two sections where there is room."""
        self.set_class(self.size.width >= WIDE, "-wide")
        self.call_after_refresh(self._draw)

    def _show(self, card: PersonCard) -> None:
        self.went_well()
        self.card = card
        self._draw()

    def _draw(self) -> None:
        card, today = self.card, self.app.today
        if card is None or today is None:
            return
        width = self.size.width - 2
        just = self.query_one("#just", Static)
        just.display = bool(self.just)
        last = [literal(line) for line in wrapped(f"Last  {self.just}", width, JUST)]
        just.update(NEWLINE.join(last))
        head = list(top(card, today, width))
        if self.ref in self.app.begun:
            head.append(
                literal("A visit is typed and not closed: v goes on with it.", "$desk-alarm")
            )
        self.query_one("#top", Static).update(NEWLINE.join(head))
        self.query_one("#sections", Static).update(self._names())
        wide = self.has_class("-wide")
        half = (self.size.width // 2 if wide else self.size.width) - 4
        beside = BESIDE if self.section != BESIDE else 0
        for where, section in (("#chosen", self.section), ("#beside", beside)):
            lines = SECTIONS[section][1](card, today, half)
            self.query_one(where, Static).update(NEWLINE.join(list(lines)))

    def _names(self) -> Content:
        parts = []
        for n, (name, _section) in enumerate(SECTIONS):
            click = Style.from_meta({"@click": f"screen.section({n})"})
            style = "bold reverse" if n == self.section else ""
            part = Content.assemble((f" {n + 1} ", "bold $desk-key"), (f"{name} ", style), " ")
            parts.append(part.stylize(click))
        return Content("").join(parts)

    def action_section(self, number: int) -> None:
        """Show a section, from its beginning."""
        self.section = number
        self._draw()
        self.query_one("#left", VerticalScroll).scroll_home(animate=False)

    def _scroll(self, by: int) -> None:
        self.query_one("#left", VerticalScroll).scroll_relative(y=by, animate=False)

    def action_up(self) -> None:
        """Scroll up."""
        self._scroll(-1)

    def action_down(self) -> None:
        """Scroll down."""
        self._scroll(1)

    def action_page_up(self) -> None:
        """Scroll a page up."""
        self._scroll(-max(1, self.query_one("#left").size.height - 1))

    def action_page_down(self) -> None:
        """Scroll a page down."""
        self._scroll(max(1, self.query_one("#left").size.height - 1))

    def action_again(self) -> None:
        """Read the person again."""
        self.refill()

    def _sheet(self, sheet: Any) -> None:
        self.app.push_screen(sheet, self._changed)

    def _changed(self, came: Next | None) -> None:
        if came is not None:
            self.just = came.words
            self.refill()

    def action_contact_points(self) -> None:
        """Add a way to reach them, or change one."""
        self._choose(
            "How to reach them", changes.contact_point_choices, changes.contact_point_sheet
        )

    def action_needs(self) -> None:
        """Change language, form of letters and what helps."""
        if self.card is not None:
            self._sheet(changes.needs(self.card, self.app.sites))

    def action_risks(self) -> None:
        """Add a risk, or end one."""
        self._choose("Risks", changes.risk_choices, changes.risk_sheet)

    def action_adults(self) -> None:
        """Add somebody who answers for them, or end that."""
        self._choose("Who answers for them", changes.adult_choices, changes.adult_sheet)

    def action_book(self) -> None:
        """Book for the person, or move or call off what is booked."""
        self.read_to_open("open", partial(own_acts.call_cards, ref=self.ref), self._book)

    def _book(self, rows: tuple[CallCard, ...]) -> None:
        card = self.card
        if card is None or (not card.loose and self._day_to_act(rows) is None):
            return
        today = self.app.today
        assert today is not None, "the register is open once it has answered"
        choices = own_acts.booking_choices(rows, today) + own_acts.loose_choices(card, today)

        def chosen(value: str | None) -> None:
            if value is not None and value.startswith("loose"):
                self._sheet(own_acts.loose_sheet(card, value))
            elif value is not None:
                self._sheet(own_acts.booking_sheet(rows, value))

        self._one_of("Appointments", choices, chosen)

    def action_told(self) -> None:
        """Record what came of their call, letter or coming in, or of a call of ours."""
        self.read_to_open("open", partial(own_acts.spoken_of, ref=self.ref), self._told)

    def _told(self, calls: tuple[own_acts.Call, ...]) -> None:
        if self._day_to_act(calls) is None:
            return

        def chosen(outcome: str | None) -> None:
            meant = acts.outcome_of(outcome) if outcome is not None else None
            if meant is None:
                return
            if meant.moves_up:
                attempt = Attempt("phone", meant.id, by_them=True)
                log = partial(acts.log, row=calls[0].rows[0], attempt=attempt)
                self.app.push_screen(HandOver(log, calls[0].rows[0].name), self._changed)
            elif meant.stops_contact == "died":
                self.action_died()
            else:
                self._sheet(own_acts.told(calls, meant.id))

        self.app.push_screen(
            Choose("They rang, or you rang them: what came of it?", own_acts.outcomes()), chosen
        )

    def _day_to_act(self, rows: Sequence[object]) -> date | None:
        """Return today, or None where nothing is open; that is said."""
        if not rows:
            self.say("Nothing is open for this person. A new visit begins with v.")
            return None
        return self.app.today

    def _one_of(
        self, title: str, choices: list[Choice], then: Callable[[str | None], None]
    ) -> None:
        """Ask which one, where there is more than one."""
        if len(choices) == 1:
            then(choices[0].value)
        else:
            self.app.push_screen(Choose(title, choices), then)

    def action_pass_on(self) -> None:
        """Write down what somebody else has to see to, or close what is open."""
        if (card := self.card) is not None:
            about = card.ref, changes.about(card)
            matters.ask(self.app, about, card.matters, self._changed)

    def action_undo(self) -> None:
        """Take back what was done last."""
        self.read_to_open("undo", acts.last, self._undo)

    def _undo(self, last: Next | None) -> None:
        """Ask first: it may be a visit with its referrals, or be about somebody else."""
        ask_undo(self, last, self._changed, at_once=False)

    def _choose(self, title: str, choices: Any, sheet: Any) -> None:
        card = self.card
        if card is None:
            return

        def chosen(value: str | None) -> None:
            if value is not None:
                self._sheet(sheet(card, value))

        self.app.push_screen(Choose(title, choices(card)), chosen)

    def action_visit(self) -> None:
        """Begin a visit."""
        from tui.screens.visit import VisitScreen

        self.app.push_screen(VisitScreen(self.ref))

    def action_course(self) -> None:
        """Show the course of both ears."""
        from tui.screens.course import CourseScreen

        if self.card is not None and not self.card.clinical:
            self.say(NOT_SHOWN)
            return
        self.app.push_screen(CourseScreen(self.ref))

    def action_correct(self) -> None:
        """Put a name, the birth date or the NHS number right."""
        if self.card is not None:
            self._sheet(correction(self.card))

    def action_objects(self) -> None:
        """Record an objection to being contacted."""
        if self.card is not None:
            self._sheet(changes.objection(self.card))

    def action_died(self) -> None:
        """Record a death."""
        if self.card is not None:
            self._sheet(changes.death(self.card))

    def report(self, error: RecallError) -> None:
        """Say what went wrong; where the person is gone, that is all there is."""
        if self.card is None:
            self.query_one("#top", Static).update(literal("This person cannot be shown."))
        super().report(error)


def _card(desk: Desk, *, ref: str) -> PersonCard:
    from recall.desk.people import person_card

    return person_card.person(desk, ref)
