"""`recall manual`: the manual's pages, in the terminal."""

from __future__ import annotations

import sys
from textwrap import fill

import click

from recall.cli.shared.common import WIDTH, emit


@click.command()
@click.argument("page", required=False)
def manual(page: str | None) -> None:
    """Print a PAGE of the manual; without one, which pages there are.

    Plain lines where another program reads them, as in recall manual post | more.
    """
    from recall import manual as book
    from recall.manual.plain import plain

    if page is None:
        emit("".join(_listed(name, book.whom(name)) for name in book.PAGES))
        return
    lines = plain(book.page(page), WIDTH)
    if sys.stdout.isatty():
        _with_headings(lines)
    else:
        emit("\n".join(lines) + "\n")


def _listed(name: str, whom: str) -> str:
    return fill(f"{name:<24}{whom}", WIDTH, subsequent_indent=" " * 24) + "\n"


def _with_headings(lines: list[str]) -> None:
    """Show a page on a terminal: its headings in bold, in the place of the lines below them."""
    from recall.manual.plain import is_rule

    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        if not is_rule(line):
            click.secho(line, bold=is_rule(after))
