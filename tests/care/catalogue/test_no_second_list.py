"""Nothing outside the catalogue lists the findings by hand: a list of its own would go stale."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from recall.care.ear import EAR_FIELDS

ROOT = Path(__file__).parents[3]
CATALOGUE = ROOT / "recall" / "care" / "findings"
MANY = 5
"""Four names are a list of tracks, too: a few of them are called as their finding is."""


def lists_of(source: str) -> Iterator[tuple[int, set[str]]]:
    """Yield the findings that each list, set, tuple or mapping of a module names, with its line."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Dict):
            parts = [key for key in node.keys if key is not None]
        elif isinstance(node, ast.List | ast.Set | ast.Tuple):
            parts = [p.elts[0] if isinstance(p, ast.Tuple) and p.elts else p for p in node.elts]
        else:
            continue
        named = {p.value for p in parts if isinstance(p, ast.Constant)} & set(EAR_FIELDS)
        yield node.lineno, named


def test_a_list_is_found_however_it_is_written() -> None:
    for written in (
        '("red", "bulging", "bullae", "keratin", "polyp")',
        '{"red": 1, "bulging": 2, "bullae": 3, "keratin": 4, "polyp": 5}',
        '[("red", 1), ("bulging", 2), ("bullae", 3), ("keratin", 4), ("polyp", 5)]',
    ):
        assert any(len(named) == MANY for _, named in lists_of(written))


def test_no_module_lists_the_findings_again() -> None:
    files = [f for top in ("recall", "tui") for f in (ROOT / top).rglob("*.py")]
    found = [
        f"{file.relative_to(ROOT)}:{line}: {', '.join(sorted(named))}"
        for file in files
        if CATALOGUE not in file.parents
        for line, named in lists_of(file.read_text(encoding="utf-8"))
        if len(named) >= MANY
    ]
    assert found == []
