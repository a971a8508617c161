"""The tool that changes code: each kind of change is found, named and made, and tests are run."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tools.mutate import changes, drawn

ROOT = Path(__file__).parents[2]


def made(text: str) -> set[str]:
    """Return a text with each of its changes made, one at a time."""
    texts = set()
    for number, _ in enumerate(changes([ast.parse(text)], 0)):
        tree = [ast.parse(text)]
        _, _, hook, key, new = list(changes(tree, 0))[number]
        hook[key] = new
        texts.add(ast.unparse(tree[0]))
    return texts


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
        ("def f():\n    return a", {"def f():\n    return None"}),
        ("def f():\n    return", set()),
        ("a.b = c", {"pass"}),
        ("x = a['b']", {"x = a['b_']"}),
        ("x = {'a': b}", {"x = {'a_': b}"}),
        ("x: int = y", set()),
        ("'says'", set()),
    ],
)
def test_each_kind_of_change_is_made(text: str, becomes: set[str]) -> None:
    assert made(text) == becomes


def test_a_change_is_named_by_its_function_and_found_by_the_lines_of_its_statement(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("m.py").write_text(
        "class A:\n    def b(self):\n        return (\n            None or c\n        )\n"
    )

    found = {name: lines for name, _, lines, *_ in drawn(Path("."), 1, 9)}

    assert found["m.py: A.b: None or c -> None"] == (3, 5)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project of one room with a copy of the tool: one of its two lines is tested."""
    for folder in ("recall/room", "tests/room", "tests/tools"):
        (tmp_path / folder).mkdir(parents=True)
    for name in ("mutate.py", "equivalent.toml"):
        shutil.copy(ROOT / "tests/tools" / name, tmp_path / "tests/tools")
    (tmp_path / "recall/room/thing.py").write_text(
        "def seen(a):\n    return a < 2\n\n\ndef not_seen(a):\n    return not a\n"
    )
    (tmp_path / "tests/room/test_thing.py").write_text(
        "from recall.room.thing import not_seen, seen\n\n\n"
        "def test_seen():\n    assert (seen(1), seen(2)) == (True, False)\n\n\n"
        "def test_not_seen():\n    not_seen(1)\n"
    )
    (tmp_path / "pyproject.toml").write_text(
        "[tool.pytest.ini_options]\naddopts = '--import-mode=importlib'\npythonpath = ['.']\n"
    )
    return tmp_path


def run(project: Path, *more: str) -> list[str]:
    command = [sys.executable, str(project / "tests/tools/mutate.py"), "room", *more]
    done = subprocess.run(command, cwd=project, capture_output=True, text=True)
    return [*done.stdout.splitlines(), *done.stderr.splitlines()]


def test_what_no_test_notices_is_printed_with_the_rate_and_its_interval(project: Path) -> None:
    *_, one, two, rate = run(project)

    assert {one, two} == {
        "line 6  recall/room/thing.py: not_seen: not a -> a",
        "line 6  recall/room/thing.py: not_seen: return not a -> return None",
    }
    # Wilson, E. B. (1927), 4 of 6: 30.0 to 90.3 %, by scipy.stats.binomtest.
    assert rate == (
        "room: 4 of 6 noticed, 67% (95% interval 30% to 90%); 0 more drawn change nothing"
    )


def test_a_test_that_fails_stops_it(project: Path) -> None:
    path = project / "tests/room/test_thing.py"
    path.write_text(path.read_text() + "\n\ndef test_wrong():\n    assert False\n")

    assert run(project)[-1] == "Tests must pass before the code is changed."
