"""Set up a private environment and check everything: lint, format, types, tests.

    python3 tests/run.py                     all of it
    python3 tests/run.py --only lint         one stage: lint, format, types or tests
    python3 tests/run.py tests/care -k fluid anything else goes to pytest

Needs Python 3.11 and the standard library only.
"""

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 — this is the place that says so
    sys.exit(f"This needs Python 3.11 or newer; this one is {sys.version.split()[0]}.")
sys.dont_write_bytecode = True
ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "demo"))

import environment as setting  # noqa: E402 — not before the two lines above
from installing import ready  # noqa: E402

WORKERS = min(os.cpu_count() or 1, 4)
STAGES = {
    "lint": ("ruff", "check", "."),
    "format": ("ruff", "format", "--check", "."),
    "types": ("mypy",),
    "tests": ("pytest", "-n", str(WORKERS), "--dist", "worksteal"),
}
"""Each stage and its command in the environment; the first word is run as a module."""


def asked() -> tuple[list[str], list[str]]:
    """Return the stages to run and the further arguments for pytest."""
    parser = argparse.ArgumentParser(description="Check everything, or one stage of it.")
    parser.add_argument("--only", choices=tuple(STAGES), help="run this stage alone")
    known, rest = parser.parse_known_args()
    if known.only:
        return [known.only], rest
    return (["tests"] if rest else list(STAGES)), rest


def run_stage(environment: setting.Environment, name: str, extra: list[str]) -> bool:
    """Run one stage with its output in sight, and say in one line how it went."""
    module, *arguments = STAGES[name]
    command = [str(environment.command("python")), "-m", module, *arguments, *extra]
    began = time.monotonic()
    child = subprocess.Popen(command, cwd=ROOT, env=environment.settings())
    try:
        status = child.wait()
    except KeyboardInterrupt:
        child.wait()
        raise
    took = time.monotonic() - began
    setting.say(f"{name:<8}{'passed' if status == 0 else 'FAILED'}  {took:.1f} s")
    return status == 0


def check() -> int:
    """Set up, run the stages, and return the exit status: 0 only if all passed."""
    stages, extra = asked()
    with setting.held("environment-tests") as lock:
        environment = ready("environment-tests", "requirements-dev.txt", lock)
    failed = [
        name
        for name in stages
        if not run_stage(environment, name, extra if name == "tests" else [])
    ]
    setting.say(f"Failed: {', '.join(failed)}." if failed else "All passed.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(setting.guarded(check))
