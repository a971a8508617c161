"""How much of each room the tests ran, line by line. Standard library only.

What tests start as a process of its own (commands, jobs, pages) is not counted.
"""

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

CHEAP = sys.version_info >= (3, 12)
"""Whether this Python tells by itself what was run: 4 % more work, where tracing takes 70 %."""
ASKED = ("--cov=recall", "--cov=tui", "--cov-report=")
"""What makes the test runner measure, in all its workers."""


def settings(made: Path) -> dict[str, str]:
    """Return the variables that keep the measure cheap and its files among what is made."""
    folder = made / "coverage"
    folder.mkdir(parents=True, exist_ok=True)
    return {"COVERAGE_FILE": str(folder / "data"), "COVERAGE_CORE": "sysmon"}


def by_room(python: str, root: Path, env: dict[str, str]) -> list[str]:
    """Return one line for each room: its statements, and how many of them were run."""
    report = Path(env["COVERAGE_FILE"]).with_name("report.json")
    command = [python, "-m", "coverage", "json", "--quiet", "-o", str(report)]
    if subprocess.run(command, cwd=root, env=env).returncode:
        return ["Nothing was measured."]
    return lines(json.loads(report.read_text("utf-8"))["files"])


def lines(files: dict) -> list[str]:
    """Return the table.

    >>> one = {"summary": {"num_statements": 4, "covered_lines": 3}}
    >>> for line in lines({"recall/care/ear.py": one, "recall/clock.py": one}):
    ...     print(line)
    room             lines    run
    recall               4    75%
    recall/care          4    75%
    all                  8    75%
    """
    there: Counter[str] = Counter()
    ran: Counter[str] = Counter()
    for name, about in files.items():
        for row in (room(name), "all"):
            there[row] += about["summary"]["num_statements"]
            ran[row] += about["summary"]["covered_lines"]
    rows = [*sorted(there.keys() - {"all"}), "all"]
    told = [f"{row:<15} {there[row]:>6} {ran[row] / max(1, there[row]):>6.0%}" for row in rows]
    return [f"{'room':<15} {'lines':>6} {'run':>6}", *told]


def room(file: str) -> str:
    """Return the room of a file.

    >>> room("recall/care/ear.py"), room("recall/clock.py"), room("tui/ears/form.py")
    ('recall/care', 'recall', 'tui')
    """
    parts = Path(file.replace("\\", "/")).parts
    return "/".join(parts[:2]) if parts[0] == "recall" and len(parts) > 2 else parts[0]
