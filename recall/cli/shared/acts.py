"""What the commands that change something share: moments, default subcommands, what is next."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.common import acting, desk, emit_lines, when
from recall.cli.shared.numbers import NUMBER

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk

VERSION = click.option(
    "--version", type=NUMBER, help="As it was looked at; refused where somebody changed it since."
)


MOMENT = when


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
        show(do(open_desk), open_desk)


def opened(given: dict[str, Any], *, reading: bool = False) -> AbstractContextManager[Desk]:
    """Return the open desk of a command's own options, which are taken out of the rest.

    `reading` needs nobody to be named.
    """
    site = given.pop("site", None)
    return desk(given.pop("config"), given.pop("by"), given.pop("on"), reading=reading, site=site)


def show(done: Next, desk: Desk) -> None:
    """Print whose it was, and what an action came to."""
    from recall.desk.people.whose import whose

    made = f" [{done.made}]" if done.made is not None else ""
    who = whose(desk, done.person_ref) if done.person_ref else ""
    if not done.words.startswith(who.partition(",")[0]) or not who:
        emit_lines(who)
    emit_lines(f"{done.words}{made}")


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
