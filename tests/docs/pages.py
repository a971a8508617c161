"""The documents for the people who use the program: README.md and the pages of the manual.

A part that is made stands between `<!-- made: NAME -->` and `<!-- end -->`.
"""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
FOLDER = ROOT / "recall" / "manual"
PAGES: dict[str, Path] = {"README": README, **{p.stem: p for p in sorted(FOLDER.glob("*.md"))}}
PART = re.compile(r"(<!-- made: (?P<name>[\w -]+) -->\n)(?P<text>.*?)(<!-- end -->)", re.S)
BLOCK = re.compile(r"^```(?P<kind>\w+)(?: (?P<file>\S+))?\n(?P<text>.*?)^```$", re.S | re.M)
CASE = "protocol"
"""The page with the worked example."""
BRINGING = "bringing-a-practice-in"
"""The page by which a practice is set up."""
SET_UP = "Set up your own practice"
"""The section of the README that says it in short."""


def text_of(page: str) -> str:
    """Return the text of a page."""
    return PAGES[page].read_text("utf-8")


def parts_of(text: str) -> dict[str, str]:
    """Return the made parts that a text holds."""
    return {found["name"]: found["text"] for found in PART.finditer(text)}


def blocks(text: str, kind: str) -> list[str]:
    """Return the blocks of a kind, outside the parts that are made."""
    return [found["text"] for found in BLOCK.finditer(PART.sub("", text)) if found["kind"] == kind]


def files_of(text: str) -> dict[str, str]:
    """Return the blocks that stand for a file, by its name."""
    return {found["file"]: found["text"] for found in BLOCK.finditer(text) if found["file"]}


def commands(text: str) -> list[str]:
    """Return the commands of `recall` in the shell blocks of a text, in order."""
    lines = "".join(blocks(text, "sh")).splitlines()
    return [line for line in lines if line.startswith("recall ")]


def case_file() -> bytes:
    """Return the case file that the worked example prints."""
    (text,) = blocks(text_of(CASE), "json")
    return text.encode()


def section(text: str, title: str) -> str:
    """Return the text of one section, down to the next of its level."""
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", text, re.S | re.M)
    assert found, f"there is no section {title}"
    return found[1]


def outside_blocks(text: str) -> list[str]:
    """Return the lines that are no block."""
    return BLOCK.sub("", text).splitlines()
