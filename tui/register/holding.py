"""What every screen may ask of the program that holds the open register."""

from __future__ import annotations

import gc
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from textual.app import App

from recall.errors import RecallError
from tui.register.hand import Hand

if TYPE_CHECKING:
    from recall.clock import Clock
    from recall.desk.core.session import Desk
    from recall.desk.core.watch import Watch
    from recall.desk.oversight.glance import Counts
    from tui.ears.form import VisitForm

ALLOCATIONS = 5_000
"""How many new objects begin a round of the garbage collector; Python's own is 700."""


def file_of(path: Path) -> tuple[int, int] | None:
    """Return what tells one file from another of the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def settle() -> None:
    """Keep what stands now out of the garbage collector's rounds, and let those be rarer.

    It stands until the desk is left, and a round over it made a key wait a tenth of a second.
    """
    gc.freeze()
    gc.enable()
    gc.set_threshold(ALLOCATIONS)


class RegisterApp(App[str], inherit_bindings=False):
    """An app that holds one open register for its screens."""

    def __init__(
        self,
        opening: Callable[[], Desk],
        *,
        log_folder: Path | None = None,
        demo: bool = False,
        setting_up: Callable[[], object] | None = None,
        glancing: Callable[[], Counts | None] | None = None,
        signing: Callable[[str, str], Desk] | None = None,
    ) -> None:
        """Open the register by `opening` when it is first needed.

        `glancing` counts what there is before that: opening takes longer. `signing` opens it for
        a handle and a password, where everybody signs in.
        """
        super().__init__()
        self._opening, self._signing = opening, signing
        self._lock = Lock()
        self._desk: Desk | None = None
        self._watch: Watch | None = None
        self._openings = 0
        self._file: tuple[int, int] | None = None
        self._clock: Clock | None = None
        self.locked = False
        """Whether nothing is shown until somebody signs in."""
        self.acting = ""
        """The handle of whoever acts at this desk, once the register was open."""
        self.log_folder = log_folder
        self.is_demo = demo
        self._setting_up = setting_up
        self._glancing = glancing
        self.announcements: tuple[str, ...] = ()
        self.hand = Hand()
        self.begun: dict[str, VisitForm] = {}
        """Visits that are typed and not closed, by the person's reference."""

    def open_desk(self) -> Desk:
        """Return the open register; called in threads.

        A database that was taken away, or another put in its place, is noticed at the next
        question: an open connection alone would go on writing into the file that is gone.
        """
        with self._lock:
            if self._desk is not None and file_of(self._desk.store.path) != self._file:
                self._let_go()
            if self._desk is None:
                desk = self._open()
                self._take(desk.acting_as(self.acting) if self.acting else desk)
            assert self._desk is not None
            return replace(self._desk, in_hand=self.hand.mine)

    def sign_in(self, handle: str, password: str) -> None:
        """Let somebody act from now on who proves who they are; called in threads.

        Raises:
            RecallError: they did not, or the register cannot be opened.
        """
        from recall.desk.signing.proofs import proven_at

        with self._lock:
            if self._desk is not None and file_of(self._desk.store.path) != self._file:
                self._let_go()
            if self._desk is not None:
                before, self._desk = self._desk, proven_at(self._desk, handle, password)
                self.acting = self._desk.by.handle
                if before.by.id != self._desk.by.id:
                    self.give_back(before)
            else:
                assert self._signing is not None
                self._take(self._signing(handle, password))

    def _open(self) -> Desk:
        from recall.desk.core.proof import NotSignedIn

        try:
            return self._opening()
        except NotSignedIn:
            self.call_later(self.lock)
            raise

    def _take(self, desk: Desk) -> None:
        self._file = file_of(desk.store.path)
        self._watch, self._openings = desk.watch(), self._openings + 1
        self._desk, self._clock, self.acting = desk, desk.clock, desk.by.handle
        settle()

    @property
    def signs_in(self) -> bool:
        """Whether whoever acts here proved who they are."""
        return self._desk is not None and self._desk.is_signed

    @property
    def locks_after(self) -> float:
        """Return the seconds without a key after which this desk locks."""
        return self._desk.config.desk.locks_after * 60.0 if self._desk is not None else 0.0

    def lock(self) -> None:
        """Hide everything until somebody signs in."""
        raise NotImplementedError

    def lock_again(self) -> None:
        """Lock, where something opened over the lock."""
        raise NotImplementedError

    def signed(self) -> None:
        """Somebody signed in: go on."""
        raise NotImplementedError

    def reopen(self) -> None:
        """Let go of the register, so that the next question opens it anew."""
        with self._lock:
            self._let_go()

    def leave(self) -> None:
        """Give back whoever is in hand at this desk: nobody is rung from here any more."""
        if self._desk is not None:
            self.give_back(self._desk)

    def give_back(self, desk: Desk) -> None:
        """Give back whoever is in hand here, under the name that took them."""
        with suppress(RecallError):  # a claim runs out by itself
            self.hand.give_back(desk)

    def _let_go(self) -> None:
        if self._watch is not None:
            self._watch.close()
        if self._desk is not None:
            self._desk.close()
        self._desk = self._watch = None

    @property
    def is_open(self) -> bool:
        """Whether the register is open."""
        return self._desk is not None

    def written(self) -> tuple[int, int]:
        """Return what is another pair as soon as anybody has written; called in threads."""
        watch, opening = self._watch, self._openings
        return opening, watch.count() if watch is not None else 0

    @property
    def can_glance(self) -> bool:
        """Whether what there is can be counted sooner than the register can be opened."""
        return self._glancing is not None and self._desk is None

    def glance(self) -> Counts | None:
        """Count what there is; called in threads."""
        assert self._glancing is not None
        return self._glancing()

    @property
    def can_set_up(self) -> bool:
        """Whether the database can be made from here."""
        return self._setting_up is not None

    def set_up(self) -> object:
        """Make the database, or bring it up to date; called in threads."""
        return self._setting_up() if self._setting_up else None

    @property
    def today(self) -> date | None:
        """Return the practice's day, once the register was open."""
        return self._clock.today() if self._clock else None

    def is_past(self, instant: datetime) -> bool:
        """Return whether an instant has come."""
        return self._clock is not None and self._clock.now() >= instant

    def has_come(self, day: date, at: time) -> bool:
        """Return whether an hour of a day has come on the practice's wall clock."""
        return self._clock is not None and self._clock.has_come(day, at)

    @property
    def sites(self) -> tuple[tuple[str, str], ...]:
        """Return the practice's sites by handle and name; nothing where it is one place."""
        found = self._desk.config.sites if self._desk is not None else ()
        return tuple((one.handle, one.name) for one in found) if len(found) > 1 else ()

    @property
    def own_site(self) -> str:
        """Return the handle of the site to which lists are narrowed, or else where one is."""
        return (self._desk.only_site or self._desk.by.site) if self._desk is not None else ""

    @property
    def sites_shown(self) -> str:
        """Return in words which sites the lists show; nothing where the practice is one place."""
        if self._desk is None or not self.sites:
            return ""
        from recall.desk.core.narrowing import sites_shown

        return sites_shown(self._desk)

    def act_as(self, desk: Desk) -> None:
        """Let somebody else act from now on, or show the lists of other sites."""
        with self._lock:
            self._desk, self.acting = desk, desk.by.handle
            self._openings += 1  # every list is read anew

    def announce(self, sentences: tuple[str, ...]) -> None:
        """Keep what concerns everybody at this desk; every screen shows it."""
        self.announcements = sentences
        show = getattr(self.screen, "announce", None)
        if show is not None:
            show()

    def begin_visit(self, reference: str) -> None:
        """Show the form of a visit of somebody."""
        raise NotImplementedError

    def show_person(self, reference: str, just: str = "") -> None:
        """Show the screen of one person, and what was just done about them."""
        raise NotImplementedError
