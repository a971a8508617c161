"""The one way from a key to the register and back.

A screen calls `read` or `write` with a function of the desk. It runs in a thread of its own;
what comes back arrives as a message, and only the answer to the latest question of a group is
taken. Reads replace each other; a write is never replaced, and while one is under way the next
is not begun.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from textual import on
from textual.screen import Screen
from textual.worker import get_current_worker

from recall.errors import RecallError
from tui.register.key_pace import NO_SHEET
from tui.register.messages import Done, Failed
from tui.register.trouble import in_words

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from tui.register.keys import KeyedApp

Result = TypeVar("Result")
T = TypeVar("T")
WRITE = "write"


class Working(Screen[Result]):
    """A screen that asks the register, and says in one way what went wrong."""

    app: KeyedApp

    def __init__(self, **more: Any) -> None:
        """Begin with nothing asked."""
        super().__init__(**more)
        self._asked: Counter[str] = Counter()
        self.writing = False
        self._opens = ""
        self._are_keys = False
        """What is typed meanwhile is no text for a sheet: each acts once there is an answer."""

    @property
    def is_opening(self) -> bool:
        """Whether a sheet is about to open here: what is typed meanwhile is for it."""
        return bool(self._opens)

    def read(
        self,
        group: str,
        work: Callable[[Desk], T],
        then: Callable[[T], None],
        otherwise: Callable[[RecallError], None] | None = None,
    ) -> None:
        """Ask the register for something to show; an older question of the group is dropped."""
        app = self.app  # asked for here: a screen that was left meanwhile finds it no more
        self._begin(group, lambda: work(app.open_desk()), then, otherwise, exclusive=True)

    def read_to_open(
        self, group: str, work: Callable[[Desk], T], then: Callable[[T], None]
    ) -> None:
        """Ask the register for what a sheet needs that `then` opens."""
        self._opens = group
        self.read(group, work, then)

    def hold_keys(self, group: str) -> None:
        """Let what is typed wait until a question is answered: it is about what stands then."""
        self._opens, self._are_keys = group, True

    def write(
        self,
        work: Callable[[Desk], T],
        then: Callable[[T], None],
        otherwise: Callable[[RecallError], None] | None = None,
    ) -> bool:
        """Change something in the register; return whether it was begun.

        It is not begun while another is under way: the key that asked for it came too early,
        for a person who is no longer the one in hand.
        """
        if self.writing:
            self.say("Still storing the last one; that key did nothing.")
            return False
        self.writing, app = True, self.app
        self._begin(WRITE, lambda: work(app.open_desk()), then, otherwise, exclusive=False)
        return True

    def run_outside(
        self,
        work: Callable[[], T],
        then: Callable[[T], None],
        otherwise: Callable[[RecallError], None] | None = None,
    ) -> None:
        """Do something in the background that needs no open register."""
        self._begin("outside", work, then, otherwise, exclusive=True)

    def report(self, error: RecallError) -> None:
        """Say what went wrong and what to do next; screens say it in their own place."""
        self.say(str(error), alarm=True)

    def say(self, words: str, *, alarm: bool = False) -> None:
        """Say something short."""
        self.notify(words, severity="error" if alarm else "information", markup=False, timeout=8)

    def _begin(
        self,
        group: str,
        work: Callable[[], Any],
        then: Callable[[Any], None],
        otherwise: Callable[[RecallError], None] | None,
        *,
        exclusive: bool,
    ) -> None:
        self._asked[group] += 1
        request, app = self._asked[group], self.app

        def run() -> None:
            worker = get_current_worker()
            answer: Done | Failed
            try:
                answer = Done(group, request, work(), then)
            except Exception as error:  # the edge: anything becomes a sentence
                answer = Failed(group, request, in_words(error, app.log_folder), otherwise)
            if not worker.is_cancelled:
                self.post_message(answer)

        self.run_worker(run, thread=True, exclusive=exclusive, group=group, exit_on_error=False)

    @on(Done)
    def _work_done(self, done: Done) -> None:
        done.stop()
        if done.group == WRITE:
            self.writing = False
        if done.request == self._asked[done.group]:
            done.then(done.value)
            self._opened(done.group)

    @on(Failed)
    def _work_failed(self, failed: Failed) -> None:
        failed.stop()
        if failed.group == WRITE:
            self.writing = False
        if failed.request == self._asked[failed.group]:
            self._are_keys = False
            (failed.otherwise or self.report)(failed.error)
            self._opened(failed.group)

    def _opened(self, group: str) -> None:
        """Drop what was typed for a sheet that did not open: here it would be taken for keys."""
        if group != self._opens:
            return
        are_keys, self._opens, self._are_keys = self._are_keys, "", False
        if self.app.screen is self and not are_keys:
            self.no_sheet()

    def no_sheet(self) -> None:
        """No sheet opened for a key: what was typed for it already is dropped."""
        if self.app.drop_keys():
            self.say(NO_SHEET)
