"""Signs of life for what takes longer than a second."""

from __future__ import annotations

import sys
from time import monotonic

import click

FIRST, EACH = 1.0, 0.5
"""Seconds before the first sign, and between signs on a terminal."""
WORTH_SAYING = 5.0
"""Seconds left from which on it is said."""
SELDOM = 10.0
"""Seconds between signs in a log file."""


class Progress:
    """Called with how many are done, and of how many; writes to standard error."""

    def __init__(self, what: str) -> None:
        """Remember what is counted; nothing is written before a second has gone by."""
        self.what = what
        self._live = sys.stderr.isatty()
        self._began = monotonic()
        self._next = self._began + FIRST
        self._shown = False

    def __call__(self, done: int, total: int = 0) -> None:
        """Show how far it is, if it is time to."""
        now = monotonic()
        if now < self._next:
            return
        self._next = now + (EACH if self._live else SELDOM)
        of = f" of {total:,}" if total else ""
        line = f"{self.what} {done:,}{of} …{self._left(now, done, total)}"
        click.echo(f"\r{line:<60}" if self._live else line, err=True, nl=not self._live)
        self._shown = True

    def _left(self, now: float, done: int, total: int) -> str:
        """Return how long it will take still, where that is long enough to be of use."""
        if not total or not done:
            return ""
        left = (now - self._began) * (total - done) / done
        if left < WORTH_SAYING:
            return ""
        return f" about {left / 60:.0f} min left" if left >= 90 else f" about {left:.0f} s left"

    def end(self) -> None:
        """Take the line away again."""
        if self._shown and self._live:
            click.echo("\r" + " " * 60 + "\r", err=True, nl=False)
        self._shown = False
