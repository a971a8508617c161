"""What the commands that change something share: moments, default subcommands, what is next."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.common import acting, desk, emit, moment

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk

VERSION = click.option(
    "--version", type=int, help="As it was looked at; refused where somebody changed it since."
)


def _moment(text: str) -> datetime:
    """Return a wall time of the practice, written as 2026-09-01T10:30."""
    try:
        return moment(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no time; write it as YYYY-MM-DDTHH:MM") from None


MOMENT = _moment


class WithDefault(click.Group):
    """A group whose first subcommand is meant where none is named."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the default subcommand in front of what names none."""
        helps = ctx.help_option_names
        named = bool(args) and (args[0] in self.commands or args[0] in helps)
        if args and not named:
            args = [next(iter(self.commands)), *args]
        return super().parse_args(ctx, args)


class ListFirst(WithDefault):
    """A group that lists where nothing is asked: its first subcommand."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the list in the place of nothing."""
        return super().parse_args(ctx, args or [next(iter(self.commands))])


def act(given: dict[str, Any], do: Callable[[Desk], Next]) -> None:
    """Do something at the desk and say what happens next."""
    with opened(given) as open_desk:
        done = do(open_desk)
    show(done)


def opened(given: dict[str, Any], *, reading: bool = False) -> AbstractContextManager[Desk]:
    """Return the open desk of a command's own options, which are taken out of the rest.

    `reading` needs nobody to be named.
    """
    return desk(given.pop("config"), given.pop("by"), given.pop("on"), reading=reading)


def show(done: Next) -> None:
    """Print what an action came to."""
    made = f" [{done.made}]" if done.made is not None else ""
    emit(f"{done.words}{made}\n")


def typed(question: str) -> str:
    """Return what somebody at the terminal types; nothing where nobody is there."""
    if not sys.stdin.isatty():
        return ""
    answer: str = click.prompt(question, err=True)
    return answer


__all__ = [
    "MOMENT",
    "ListFirst",
    "VERSION",
    "WithDefault",
    "act",
    "acting",
    "opened",
    "show",
    "typed",
]
