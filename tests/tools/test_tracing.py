"""Tests are traced once: what is kept is used again, and a test that fails is named."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RUN = """
import sys
from pathlib import Path
import pytest
from tests.tools.tracing import Trace, Tracing

here = Path(sys.argv[1])
sys.path.insert(0, str(here))

class Loop:
    def pytest_runtestloop(self, session):
        before = set(tracing.read())
        failed = tracing.bring_up_to_date(session.items)
        for name, test in sorted(tracing.read().items()):
            lines = sorted(n for found in test["lines"].values() for n in found)
            print("NEW" if name not in before else "KEPT", name.rpartition("/")[2], lines)
        print("FAILED", failed.rpartition("/")[2])
        return True

tracing = Tracing(Trace((str(here / "room"),)), here / "kept" / "trace.json")
pytest.main(["-q", "-p", "no:cacheprovider", str(here)], plugins=[tracing, Loop()])
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "thing.py").write_text(
        "def more(n):\n    if n:\n        n += 1\n    return n\n"
    )
    test = "from room.thing import more\n\n\ndef test_{}():\n    assert more({}) == {}\n"
    (tmp_path / "test_one.py").write_text(test.format("one", 1, 2))
    (tmp_path / "test_two.py").write_text(test.format("none", 0, 0))
    return tmp_path


def traced(folder: Path) -> list[str]:
    run = [sys.executable, "-c", RUN, str(folder)]
    done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=True)
    return [line for line in done.stdout.splitlines() if line.split(" ")[0].isupper()]


def test_each_test_is_kept_with_the_lines_it_goes_through(folder: Path) -> None:
    one, two = "test_one.py::test_one [1, 2, 3, 4]", "test_two.py::test_none [1, 2, 4]"

    assert traced(folder) == [f"NEW {one}", f"NEW {two}", "FAILED "]
    assert traced(folder) == [f"KEPT {one}", f"KEPT {two}", "FAILED "]


def test_a_test_that_fails_is_named_and_not_kept(folder: Path) -> None:
    (folder / "test_two.py").write_text("def test_wrong():\n    assert False\n")

    assert traced(folder)[-1] == "FAILED test_two.py::test_wrong"
    assert "test_wrong" not in "".join(traced(folder)[:-1])
