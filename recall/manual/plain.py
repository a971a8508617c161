"""A page as plain lines for a terminal: no marks, and nothing wider than asked for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from textwrap import wrap

WIDTH = 80
_NAMED = 26
"""The widest first column that the second one still stands beside."""
_LINK = re.compile(r"\[([^\]]+)\]\(([^)\s]+)\)")
_LOUD = re.compile(r"(\*\*|\*)(?=\S)(.+?)(?<=\S)\1")
_ITEM = re.compile(r"(- |\d+\. )(.*)")
_NOTE = re.compile(r"^<!--.*?-->\n|[ ]*<!--.*?-->", re.M)
_CELLS = re.compile(r"(?<!\\)\|")


def plain(markdown: str, width: int = WIDTH, *, pictures: bool = True) -> list[str]:
    """Return a page as lines; `pictures` are what a terminal shows.

    >>> plain("# Jobs\\n\\n- `nightly` runs *daily*.")
    ['Jobs', '====', '', '- nightly runs daily.']
    """
    lines: list[str] = []
    for block in _blocks(markdown):
        if not pictures and block[0].startswith("```text"):
            _leave_announcement_out(lines)
            continue
        if lines and lines[-1]:
            lines.append("")
        lines += _shown(block, width)
    return lines


def _blocks(markdown: str) -> Iterator[list[str]]:
    """Yield the runs of lines that belong together; what is fenced is one of them."""
    block: list[str] = []
    fenced = False
    for line in _NOTE.sub("", markdown).splitlines():
        if line.startswith("```"):
            fenced = not fenced
        if line.strip() or fenced:
            block.append(line)
        elif block:
            yield block
            block = []
    if block:
        yield block


def _leave_announcement_out(lines: list[str]) -> None:
    """Take away the sentence that announces a picture which is left out."""
    if lines and lines[-1].endswith(":"):
        while lines and lines[-1]:
            lines.pop()


def _shown(block: list[str], width: int) -> list[str]:
    first = block[0]
    if first.startswith("```"):
        return [part for line in block[1:-1] for part in _fitted(line, width)]
    if first.startswith("#"):
        words = _said(first.lstrip("# "))
        return [words, ("=" if first.startswith("# ") else "-") * len(words)]
    if first.startswith("|"):
        return _table(block, width)
    if _ITEM.match(first):
        return [part for item in _items(block) for part in _item(item, width)]
    return wrap(_said(" ".join(block)), width)


def _fitted(line: str, width: int) -> list[str]:
    """Return a line as it is, or in pieces where it is too wide."""
    if len(line) <= width:
        return [line]
    pieces = wrap(line, width, subsequent_indent="   ", drop_whitespace=False)
    return [piece.rstrip() for piece in pieces]


def _items(block: list[str]) -> Iterator[str]:
    """Yield the points of a list, each with the lines that go on with it."""
    item = ""
    for line in block:
        if item and _ITEM.match(line):
            yield item
            item = ""
        item = f"{item} {line.strip()}".strip()
    yield item


def _item(line: str, width: int) -> list[str]:
    found = _ITEM.match(line)
    mark, said = (found[1], found[2]) if found else ("", line)
    return wrap(_said(said), width, initial_indent=mark, subsequent_indent=" " * len(mark))


def _table(block: list[str], width: int) -> list[str]:
    """Return two columns side by side; of more, each row as its parts with their headings."""
    heads, _rule, *rows = [_cells(line) for line in block]
    if len(heads) == 2:
        beside = max(len(row[0]) for row in rows) + 2 if rows else 0
        return [part for row in rows for part in _pair(row, min(beside, _NAMED), width)]
    return [part for row in rows for part in _parts(heads, row, width)]


def _pair(row: list[str], beside: int, width: int) -> list[str]:
    name, says = row
    indent = " " * beside
    if len(name) + 2 > beside:
        return [
            *wrap(name, width),
            *wrap(says, width, initial_indent="   ", subsequent_indent="   "),
        ]
    lines = wrap(says, width, initial_indent=indent, subsequent_indent=indent)
    return [name.ljust(beside) + lines[0][beside:], *lines[1:]] if lines else [name]


def _parts(heads: list[str], row: list[str], width: int) -> list[str]:
    lines = wrap(row[0], width)
    for head, cell in zip(heads[1:], row[1:], strict=True):
        lines += _further(f"{head}: {cell}", width) if cell else []
    return lines


def _further(text: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent="   ", subsequent_indent="      ")


def is_rule(line: str) -> bool:
    """Return whether a line underlines the heading before it.

    >>> is_rule("===="), is_rule("- a point")
    (True, False)
    """
    return len(line) > 1 and set(line) in ({"="}, {"-"})


def _cells(line: str) -> list[str]:
    inside = line.strip().removeprefix("|").removesuffix("|")
    return [_said(cell.strip().replace("\\|", "|")) for cell in _CELLS.split(inside)]


def _said(text: str) -> str:
    """Return words without marks; what stands in backticks stays as it is."""
    parts = _LINK.sub(_linked, text).split("`")
    return "".join(p if n % 2 else _LOUD.sub(r"\2", p) for n, p in enumerate(parts))


def _linked(found: re.Match[str]) -> str:
    """Return a link's words, and the page of the manual that it leads to."""
    page, _, _ = found[2].partition("#")
    if page.endswith(".md") and "/" not in page:
        named = page.removesuffix(".md")
        return found[1] if found[1] == named else f"{found[1]} (recall manual {named})"
    return found[1]
