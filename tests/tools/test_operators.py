"""The tool that changes code: each kind of change is found, named and made."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.tools.operators import changed, changes


def made(tmp_path: Path, text: str) -> set[str]:
    """Return a text with each of its changes made, one at a time."""
    path = tmp_path / "module.py"
    path.write_text(text, "utf-8")
    return {ast.unparse(changed(text, c.number)) for c in changes(path, "module.py")}


@pytest.mark.parametrize(
    ("text", "becomes"),
    [
        ("a < b", {"a <= b", "pass"}),
        ("x = a in b", {"x = a not in b"}),
        ("x = a == 'b'", {"x = a != 'b'", "x = a == 'b_'"}),
        ("x = a and b", {"x = a or b", "x = a", "x = b"}),
        ("x = not a", {"x = a"}),
        ("x = a + 2", {"x = a - 2", "x = a + 3", "x = a + 1"}),
        ("x = True", {"x = False"}),
        ("x = min(a)", {"x = max(a)"}),
        ("x = [a for a in b if c]", {"x = [a for a in b]"}),
        ("a.b = c", {"pass"}),
        ("x = a['b']", {"x = a['b_']"}),
        ("x = {'a': b}", {"x = {'a_': b}"}),
        ("x: int = y", set()),
        ("'says'", set()),
    ],
)
def test_each_kind_of_change_is_made(tmp_path: Path, text: str, becomes: set[str]) -> None:
    assert made(tmp_path, text) == becomes


def test_a_change_is_named_by_its_function_and_found_by_the_lines_of_its_statement(
    tmp_path: Path,
) -> None:
    path = tmp_path / "module.py"
    path.write_text(
        "class A:\n    def b(self):\n        return (\n            None or c\n        )\n"
    )

    found = [c for c in changes(path, "m.py") if c.after == "None"]

    assert [c.name for c in found] == ["m.py: A.b: None or c -> None"]
    assert (found[0].first, found[0].last, found[0].on_loading) == (3, 5, False)
