"""Set up a private environment and check everything: lint, format, types, tests.

    python3 tests/run.py                     all of it
    python3 tests/run.py --only lint         one stage: lint, format, types, tests, pure, server,
                                             others
    python3 tests/run.py tests/care -k fluid anything else goes to pytest

The stage `server`, by its name alone, runs the tests of records, jobs and desk on a PostgreSQL
server of this run's own, where the programs of one are found. The last stage runs the tests of
the pure rooms on every other Python of this machine that the project serves, each in an
environment of its own. Needs Python 3.11 and the standard library only.
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

import database_server  # noqa: E402 — not before the two lines above
import environment as setting  # noqa: E402
import failed  # noqa: E402
import measuring  # noqa: E402
import pythons  # noqa: E402
from installing import ready  # noqa: E402

WORKERS = min((os.cpu_count() or 1) + 1, 5)
"""One more than there are cores: a test of a screen waits for the desk to be at rest now and then,
and one of a whole command for its process."""
TESTS = ("pytest", "-n", str(WORKERS), "--dist", "worksteal")
PURE = tuple(f"tests/{room}" for room in ("care", "protocol", "schedule", "loop", "cycle"))
STAGES = {
    "lint": ("ruff", "check", "."),
    "format": ("ruff", "format", "--check", "."),
    "types": ("mypy",),
    "tests": TESTS,
    "pure": (*TESTS, *PURE),
    "server": (*TESTS, "tests/records", "tests/jobs", "tests/desk", "tests/on_server"),
}
"""Each stage and its command in the environment; the first word is run as a module."""
NAMED: list[str] = []
"""The tests that failed, named once more in the last lines of a run."""
EVERYTHING = ("lint", "format", "types", "tests", "others")


def asked() -> tuple[tuple[str, ...], list[str]]:
    """Return the stages to run and the further arguments for pytest."""
    parser = argparse.ArgumentParser(description="Check everything, or one stage of it.")
    parser.add_argument("--only", choices=(*STAGES, "others"), help="run this stage alone")
    known, rest = parser.parse_known_args()
    if known.only:
        return (known.only,), rest
    return (("tests",) if rest else EVERYTHING), rest


def run_stage(name: str, command: list[str], env: dict[str, str]) -> bool:
    """Run one stage with its output in sight, and say in one line how it went.

    The tests that failed are named once more in the last lines of the run.
    """
    report = setting.MADE / "reports" / f"{name}-{pythons.OWN}.xml" if "pytest" in command else None
    command = [*command, *(failed.asked(report) if report else ())]
    began = time.monotonic()
    child = subprocess.Popen(command, cwd=ROOT, env=env)
    try:
        status = child.wait()
    except KeyboardInterrupt:
        child.wait()
        raise
    took = time.monotonic() - began
    setting.say(f"{name:<11} {'passed' if status == 0 else 'FAILED'}  {took:.1f} s")
    if status and report:
        NAMED.extend([f"{name}:", *failed.lines(report)])
    return status == 0


def in_environment(name: str, extra: list[str]) -> bool:
    """Run one stage in this Python's environment; all the tests are measured where it is cheap."""
    folder = f"environment-tests-{pythons.OWN}"
    with setting.held(folder) as lock:
        environment = ready(folder, "requirements-dev.txt", lock)
    command = [str(environment.command("python")), "-m", *STAGES[name]]
    if name == "server":
        return on_server(command, extra, environment.settings())
    if name != "tests" or extra or not measuring.CHEAP:
        return run_stage(name, [*command, *extra], environment.settings())
    env = {**environment.settings(), **measuring.settings(setting.MADE)}
    passed = run_stage(name, [*command, *measuring.ASKED], env)
    for line in measuring.by_room(command[0], ROOT, env):
        setting.say(line)
    return passed


def on_server(command: list[str], extra: list[str], env: dict[str, str]) -> bool:
    """Run the tests of whatever keeps rows on a server, where one is found on this machine."""
    if database_server.programs() is None:
        setting.say(f"{'server':<11} {database_server.NONE_FOUND}")
        return True
    return run_stage("server", [*command, *extra], {**env, "RECALL_TEST_DATABASE": "postgres"})


def on_others() -> bool:
    """Let each other Python test the pure rooms by this very command."""
    went = [
        run_stage(f"Python {version}", [python, __file__, "--only", "pure"], dict(os.environ))
        for version, python in pythons.others().items()
    ]
    return all(went)


def check() -> int:
    """Run the stages, and return the exit status: 0 only if all passed."""
    stages, extra = asked()
    fell = [
        name
        for name in stages
        if not (on_others() if name == "others" else in_environment(name, extra))
    ]
    for line in NAMED:
        setting.say(line)
    setting.say(f"Failed: {', '.join(fell)}." if fell else "All passed.")
    return 1 if fell else 0


if __name__ == "__main__":
    sys.exit(setting.guarded(check))
