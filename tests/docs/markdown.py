"""Tables and blocks in Markdown."""

from __future__ import annotations

from collections.abc import Iterable


def table(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    """Return a table."""
    body = (tuple(cell.replace("|", "\\|") for cell in row) for row in rows)
    lines = [heads, tuple("---" for _ in heads), *body]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def words(of: tuple[str, ...]) -> str:
    """Return words as code, in a row."""
    return ", ".join(f"`{word}`" for word in of)


def block(text: str) -> str:
    """Return what a terminal shows, as a block."""
    return f"```text\n{text}```\n"
