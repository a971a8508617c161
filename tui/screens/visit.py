"""Closing a visit: the shortcut for clear ears, what was said, the plan, and its acceptance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from textual.content import Content

from recall.care.case import URGENCIES
from recall.care.dates import is_child
from recall.care.ear import SIDES, Side
from recall.errors import Conflict, RecallError
from recall.schedule.plan import Plan
from recall.schedule.plan_lines import Judgement, Line
from tui.dialogs.acknowledge import Acknowledged
from tui.dialogs.ask import Ask
from tui.dialogs.choose import Choose
from tui.dialogs.form import Form
from tui.dialogs.text_sheet import TextSheet
from tui.ears.form import VisitForm, wrongs
from tui.screens.visit_typing import VisitTyping, before_visit, history
from tui.visits import asking_first, closing, judging, sheets, standing
from tui.visits.closed_sheet import ClosedSheet
from tui.visits.plan_text import plan_lines
from tui.visits.ready import Ready, make_ready
from tui.visits.said import Report, Said
from tui.words.text import literal

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.ear_history import EarHistory

NEWLINE = Content("\n")


class VisitScreen(VisitTyping):
    """One visit of one person, before it is closed."""

    HELP = """\
One finding a line, the right ear before the left. A digit writes the answer and goes on to the
next finding: 0 is always what a healthy ear shows, the line below says the others. “◆” stands
beside what a healthy ear does not show, “·” is not recorded, which is never the same as normal.
“▸” stands before the marked finding and before the marked ear; Tab goes to the other ear.
c writes both ears as clear in four keys: c, the wax that was found, what was really seen of the
drums, how they hear now. What was not normal last time is left for you to look at.
Lines of the plan are judged with x, g, l and d, those that stood before like new ones; where
nothing else was typed, w keeps that without a visit.
The plan is worked out again on every key. Nothing is stored until the visit is closed with w;
leaving the screen keeps what you typed."""

    # What opens a sheet.

    def action_both_clear(self) -> None:
        """Write both ears as clear, as far as they were seen."""
        self._clear(SIDES)

    def action_one_clear(self) -> None:
        """Write the marked ear as clear, as far as it was seen."""
        self._clear((self.grid.side,))

    def action_clear_except(self) -> None:
        """Write both ears as clear but for the marked finding, which is then typed."""
        self._clear(SIDES, but_marked=True)

    def _clear(self, sides: tuple[Side, ...], *, but_marked: bool = False) -> None:
        form, known = self.form, self.known
        place, marked_side, row = self.grid.row, self.grid.side, self.grid.field
        if form is None or known is None:
            return

        def answered(given: tuple[str, ...] | None) -> None:
            if given is None:
                return
            made = sheets.cleared(form, given, before_visit(known, form), sides)
            left_open, kept = sheets.left_open_words(made), sheets.kept_words(made)
            self.told = left_open or kept
            if left_open and kept:
                self.say(kept)
            if but_marked:
                self.change(sheets.kept_open(made, form, marked_side, row))
                self.grid.mark(place, marked_side)
                return
            self.change(made.form)
            if made.left_open:
                side, name = made.left_open[0]
                self.grid.mark(sheets.place_of(name), side)

        self.app.push_screen(sheets.clear_sheet(sides), answered)

    def action_said(self) -> None:
        """Tick what the person said."""
        form = self.form
        if form is None:
            return

        def said(reported: tuple[Report, ...] | None) -> None:
            if reported is not None:
                self.take(replace(form, reported=reported))

        self.app.push_screen(Said(form.reported, form.on), said)

    def action_note(self) -> None:
        """Write something down."""
        self._sheet(sheets.noting)

    def action_category(self) -> None:
        """Set another kind of follow-up."""
        self._sheet(lambda form: sheets.category(form, self.plan))

    def _sheet(self, make: Callable[[VisitForm], Form]) -> None:
        if self.form is not None:
            self.app.push_screen(make(self.form), self.take)

    def action_plan(self) -> None:
        """Show the whole plan."""
        plan, today = self.plan, self.app.today
        if plan is not None and today is not None:
            lines = plan_lines(plan, today, min(66, self.size.width - 10))
            self.app.push_screen(
                TextSheet("The plan, with reasons and sources", NEWLINE.join(lines))
            )

    def action_course(self) -> None:
        """Show the course of both ears."""
        from tui.screens.course import CourseScreen

        self.app.push_screen(CourseScreen(self.ref))

    def action_dates(self) -> None:
        """Change the days of one date of the plan."""
        form, plan, today = self.form, self.plan, self.app.today
        if form is None or plan is None or today is None:
            return
        if not plan.follow_ups:
            self.say("The plan has no date to change.")
        else:
            choices = sheets.follow_up_choices(plan, today)
            self.app.push_screen(Choose("Which date?", choices), self._change_dates)

    def _change_dates(self, number: str | None) -> None:
        if number is not None and self.form is not None and self.plan is not None:
            sheet = sheets.dates(self.form, self.plan.follow_ups[int(number)])
            self.app.push_screen(sheet, self.take)

    def action_strike(self) -> None:
        """Strike a line of the plan out."""
        self._judge("strike")

    def action_raise_line(self) -> None:
        """Make a line of the plan more urgent."""
        self._judge("raise")

    def action_lower_line(self) -> None:
        """Make a line of the plan less urgent."""
        self._judge("lower")

    def _judge(self, way: judging.Way) -> None:
        plan, today = self.plan, self.app.today
        if self.form is None or plan is None or today is None:
            return
        lines = judging.choices(plan, way)
        if not lines:
            self.say("The plan has no line for that.")
            return

        def answered(given: tuple[str, ...] | None) -> None:
            line = next((each for each in lines if given and each.name == given[0]), None)
            if line is not None and given is not None:
                self._judged(line, judging.judgement(line, way, given[1]))

        self.app.push_screen(judging.sheet(lines, way, today), answered)

    def _judged(self, line: Line, made: Judgement) -> None:
        """Take a judgement; first whatever else it needs."""
        form, known, today = self.form, self.known, self.app.today
        if form is None or known is None or today is None:
            return
        milder = made.does == "strike" or line.urgency == URGENCIES[0]
        if milder and (why := judging.stands(form, line, made)):
            self.say(why, alarm=True)
        elif milder and line.urgency == URGENCIES[0]:
            self.app.push_screen(judging.explains(form, line, made), self.take)
        elif made.does == "strike" and made.because == "declines" and is_child(known.born, today):
            self.read("prompt", _prompt, partial(self._consider, line, made))
        elif made.does == "strike" and made.because == "known_elsewhere":
            self.app.push_screen(judging.elsewhere(form, line, made), self.take)
        elif made.because == "judgement":
            self.app.push_screen(judging.reasons(form, line, made), self.take)
        else:
            self.take(judging.with_judged(form, line.name, made))

    def _consider(self, line: Line, made: Judgement, prompt: str) -> None:
        """Let the practice's prompt about those whom others bring be considered first."""

        def considered(yes: bool | None) -> None:
            if yes and self.form is not None:
                told = replace(made, considered=True)
                self.take(judging.with_judged(self.form, line.name, told))

        self.app.push_screen(Ask("Consider first", [prompt], yes="Considered"), considered)

    def action_earlier(self) -> None:
        """Put an earlier visit right, or void it."""
        if self.known is None:
            return
        choices = sheets.earlier_choices(self.known)
        if not choices:
            self.say("There is no earlier visit.")
            return
        self.app.push_screen(Choose("Which visit?", choices), self._earlier_chosen)

    def _earlier_chosen(self, chosen: str | None) -> None:
        if chosen is None:
            return
        if chosen.startswith(sheets.VOID):
            number = int(chosen.removeprefix(sheets.VOID))
            self.app.push_screen(sheets.voiding(number), self._voided)
        else:
            take = partial(sheets.earlier, number=int(chosen))
            self.read("earlier", take, self._take_earlier)

    def _take_earlier(self, form: VisitForm) -> None:
        self.told = f"Visit #{form.corrects} is being put right."
        self.change(form)

    def _voided(self, words: str | None) -> None:
        if words:
            self.told = words
            self.refill()

    # Closing.

    def action_close(self) -> None:
        """Accept the plan and close the visit; first whatever has to be looked at again."""
        form, known = self.form, self.known
        if form is None or known is None:
            return
        if wrong := wrongs(form):
            self.say(f"{wrong[0].says} Change one of the two.", alarm=True)
            self.grid.mark(sheets.place_of(wrong[0].fields[1]), wrong[0].side)
            return
        if form.only_judges:
            read = partial(standing.standing_plan, known=known)
            self.read("stands", read, partial(self._keep_judged, form))
            return
        ready = partial(make_ready, known=known, form=form)
        self.read("ready", ready, partial(self._look_again, form))

    def _keep_judged(self, form: VisitForm, stands: Plan) -> None:
        """Keep what was made of lines that stood before, where there was no examination."""
        today = self.app.today
        if today is None or form is not self.form or self.app.screen is not self:
            return

        def sure(yes: bool | None) -> None:
            if yes:
                keep = partial(standing.keep, ref=self.ref, form=form)
                self.write(keep, self._judged_kept, self._not_closed)

        self.app.push_screen(standing.keep_sheet(form, stands, today), sure)

    def _judged_kept(self, done: Next) -> None:
        self.went_well()
        self.app.begun.pop(self.ref, None)
        sheet = TextSheet("Decided, without a visit", literal(done.words))

        def read_through(_: None) -> None:
            self.dismiss(None)

        self.app.push_screen(sheet, read_through)

    def _look_again(self, form: VisitForm, ready: Ready) -> None:
        self.went_well()
        if form is not self.form or self.app.screen is not self:
            self.say("Something was typed meanwhile: look at the plan, then close again.")
            return
        self._ask_examiner(ready)

    def _ask_examiner(self, ready: Ready) -> None:
        """Ask who examined, where somebody else began the visit."""
        sheet = asking_first.examiner_sheet(ready)
        if sheet is None:
            self._explain_milder(ready)
            return

        def named(handle: str | None) -> None:
            if handle is not None:
                self._explain_milder(asking_first.with_examiner(ready, handle))

        self.app.push_screen(sheet, named)

    def _explain_milder(self, ready: Ready) -> None:
        """Ask why, where a correction drops or lowers what pressed."""
        sheet = asking_first.milder_sheet(ready)
        if sheet is None:
            self._ask_once(ready)
            return

        def explained(given: Ready | None) -> None:
            if given is not None:
                self._ask_once(given)

        self.app.push_screen(sheet, explained)

    def _ask_once(self, ready: Ready) -> None:
        """Ask about each referral whose reason is gone."""
        sheet = asking_first.groundless_sheet(ready)
        if sheet is None:
            self._accept(ready)
            return

        def answered(given: tuple[str, ...] | None) -> None:
            if given is not None:
                self._accept(asking_first.with_answers(ready, given))

        self.app.push_screen(sheet, answered)

    def _accept(self, ready: Ready) -> None:
        """Ask whether the plan is accepted."""
        today = self.app.today
        assert today is not None, "the register is open once it has answered"

        def accepted(yes: bool | None) -> None:
            if yes:
                self._acknowledge(ready, today)

        self.app.push_screen(closing.accept_sheet(ready, today), accepted)

    def _acknowledge(self, ready: Ready, today: date) -> None:
        sheet = closing.pressing_sheet(ready, today)
        if sheet is None:
            self._store(ready, Acknowledged(""))
            return

        def named(given: Acknowledged | None) -> None:
            if given:
                self._store(ready, given)

        self.app.push_screen(sheet, named)

    def _store(self, ready: Ready, given: Acknowledged) -> None:
        store = partial(closing.store, ready=ready, acknowledged=given)
        self.write(store, partial(self._visit_closed, ready), self._not_closed)

    def _not_closed(self, error: RecallError) -> None:
        """Say why not; where somebody else was first, the plan is worked out again."""
        self.report(error)
        if isinstance(error, Conflict):
            self.read("history", partial(history, ref=self.ref), self._again)

    def _again(self, known: EarHistory) -> None:
        self.known = known
        self.plan_again()

    def _visit_closed(self, ready: Ready, done: closing.Done) -> None:
        self.went_well()
        self.app.begun.pop(self.ref, None)
        today = self.app.today
        assert today is not None, "the register is open once it has answered"
        text = closing.closed_lines(done, ready.plan, today)

        sheet = ClosedSheet(self.ref, text)

        def read_through(_: None) -> None:
            self.dismiss(None)
            if sheet.leads_to:
                self.app.call_later(self.app.run_action, f"app.go('{sheet.leads_to}')")

        self.app.push_screen(sheet, read_through)


def _prompt(desk: Desk) -> str:
    return desk.config.children.safeguarding_prompt
