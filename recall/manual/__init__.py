"""The manual: its pages in order, read from the files beside this one."""

from __future__ import annotations

from importlib.resources import files

from recall.errors import InputError

PAGES: tuple[str, ...] = (
    "reception",
    "practitioner",
    "manager",
    "signing-in",
    "post",
    "bringing-a-practice-in",
    "protocol",
    "letters",
    "jobs",
    "data-and-backup",
    "commands",
    "keys",
    "columns",
)
"""Every page, in the order in which one would read them."""


def page(name: str) -> str:
    """Return a page as it is written, in Markdown.

    Raises:
        InputError: there is no such page.
    """
    if name not in PAGES:
        known = ", ".join(PAGES)
        raise InputError(f"There is no page {name!r} in the manual.", hint=f"There are: {known}.")
    return (files(__package__) / f"{name}.md").read_text("utf-8")


def title(name: str) -> str:
    """Return the title of a page."""
    return page(name).splitlines()[0].removeprefix("# ")


def whom(name: str) -> str:
    """Return for whom a page is written, as its first sentence says."""
    return page(name).splitlines()[2]
