"""The five marks that a line of wording may begin with.

`# ` a heading, `- ` a point of a list, `> ` a fact set apart, `~ ` a line that stays a line,
`% ` the caption of the hearing chart, which is drawn there.

The marks are read from the file alone: before rendering they become private characters, which
`text.clean` takes out of everything that is filled in. So a name that looks like a mark prints
as it is written.
"""

from __future__ import annotations

import re
from itertools import groupby

from recall.letters.composed import Block, BlockKind

_MARKS: dict[str, tuple[str, BlockKind]] = {
    "#": ("\ue001", "heading"),
    "-": ("\ue002", "list"),
    ">": ("\ue003", "facts"),
    "~": ("\ue004", "lines"),
    "%": ("\ue005", "audiogram"),
}
_KINDS: dict[str, BlockKind] = dict(_MARKS.values())
_MARKED = re.compile(r"^([#>~%-]) ", re.MULTILINE)
_PLAIN: dict[BlockKind, str] = {"list": "- ", "facts": "    "}


def mark(source: str) -> str:
    """Return a file's text with its marks made private."""
    return _MARKED.sub(lambda found: _MARKS[found[1]][0], source)


def parse(rendered: str) -> tuple[Block, ...]:
    """Return the blocks of a rendered text."""
    paragraphs = re.split(r"\n\s*\n", rendered)
    return tuple(block for paragraph in paragraphs for block in _blocks(paragraph))


def _blocks(paragraph: str) -> list[Block]:
    lines = [line.strip() for line in paragraph.splitlines() if line.strip()]
    found = []
    for kind, run in groupby(lines, key=_kind):
        texts = [line if kind == "text" else line[1:].strip() for line in run]
        kept = tuple(filter(None, [" ".join(texts)] if kind in ("text", "heading") else texts))
        if kept:
            found.append(Block(kind=kind, lines=kept))
    return found


def _kind(line: str) -> BlockKind:
    return _KINDS.get(line[0], "text")


def plain(blocks: tuple[Block, ...]) -> str:
    """Return the blocks as plain text, for an e-mail or for reading aloud."""
    return "\n\n".join(
        "\n".join(_PLAIN.get(block.kind, "") + line for line in block.lines) for block in blocks
    )
