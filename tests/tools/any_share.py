"""Of how many expressions mypy does not know the type, room by room; run by hand.

    python tests/tools/any_share.py [PACKAGE ...]

Without a name, for `recall` and `tui`. An expression of an unknown type is not checked, nor is
anything that is done with it.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
REPORT = "any-exprs.txt"


def report(packages: list[str], folder: Path) -> str:
    """Return mypy's table of expressions, one line a module."""
    named = [word for package in packages for word in ("-p", package)]
    command = [sys.executable, "-m", "mypy", *named, "--any-exprs-report", str(folder)]
    # A module that mypy remembers is not counted: nothing is remembered for this.
    subprocess.run([*command, "--cache-dir", str(folder / "cache")], cwd=ROOT, check=True)
    return (folder / REPORT).read_text("utf-8")


def by_room(table: str) -> list[tuple[str, int, int]]:
    """Return room, expressions of an unknown type, and all expressions."""
    unknown: Counter[str] = Counter()
    everything: Counter[str] = Counter()
    for line in table.splitlines():
        match line.split():
            case [module, some, total, share] if share.endswith("%"):
                parts = module.split(".")
                for depth in (1, 2, 3):
                    room = ".".join(parts[:depth])
                    if module != "Total" and len(parts) > depth:
                        unknown[room] += int(some)
                        everything[room] += int(total)
    return [(room, unknown[room], everything[room]) for room in sorted(everything)]


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        table = report(sys.argv[1:] or ["recall", "tui"], Path(folder))
    print(f"{'room':<28}{'unknown':>9}{'of':>9}")
    for room, unknown, everything in by_room(table):
        print(f"{room:<28}{unknown:>9,}{everything:>9,}{unknown / everything:>9.1%}")


if __name__ == "__main__":
    main()
