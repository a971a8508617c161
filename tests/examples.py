"""The examples that stand in docstrings: which modules have some, and whether they hold."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def with_examples(*rooms: str) -> list[str]:
    """Return the names of the modules of some rooms that have examples, in order."""
    files = (path for room in rooms for path in (ROOT / room).rglob("*.py"))
    found = (path.relative_to(ROOT) for path in files if ">>>" in path.read_text("utf-8"))
    return sorted(".".join(path.with_suffix("").parts) for path in found)


def hold(name: str) -> bool:
    """Return whether a module has examples, and each of them holds."""
    result = doctest.testmod(importlib.import_module(name))
    return result.attempted > 0 and result.failed == 0
