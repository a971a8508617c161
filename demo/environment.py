"""A private Python environment inside the checkout: where it lies, whether it is whole.

Everything that it makes lies in demo/made/, pip's cache and temporary files
included: to remove it all, delete that folder. Standard library only.
"""

import contextlib
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from running import Trouble, plain, say

ROOT = Path(__file__).resolve().parent.parent
MAKERS = ("environment.py", "installing.py")
MADE = ROOT / "demo" / "made"
TEMPORARY = MADE / "temporary" / str(os.getpid())
BENDING = frozenset(
    {
        "PYTHONPATH",
        "PYTHONHOME",
        "PYTHONSTARTUP",
        "PYTHONUSERBASE",
        "PYTHONOPTIMIZE",
        "PYTHONWARNINGS",
        "VIRTUAL_ENV",
        "PIP_TARGET",
        "PIP_PREFIX",
        "PIP_ROOT",
        "PIP_PYTHON",
        "PIP_SRC",
        "PIP_BUILD_TRACKER",
        "PIP_LOG",
        "PIP_REQUIRE_VIRTUALENV",
        "PIP_NO_DEPS",
        "PIP_DRY_RUN",
        "PIP_CONSTRAINT",
        "PIP_REQUIREMENT",
        "PIP_REQUIRE_HASHES",
        "PIP_ONLY_BINARY",
        "PIP_NO_BINARY",
        "__PYVENV_LAUNCHER__",
        "UV_PYTHON",
        "UV_TARGET",
        "UV_CONSTRAINT",
        "UV_OVERRIDE",
        "UV_REQUIRE_HASHES",
        "UV_PROJECT_ENVIRONMENT",
        "UV_SYSTEM_PYTHON",
    }
)
"""Settings of the person's own shell that would bend the environment or send files elsewhere."""

WHOLE = """
import csv, importlib.metadata as metadata, os, sys
for found in metadata.distributions():
    for name, *_ in csv.reader((found.read_text('RECORD') or '').splitlines()):
        if not name.endswith('.pyc') and not os.path.exists(found.locate_file(name)):
            sys.exit('%s is not whole' % found.name)
metadata.version('ear-recall')
"""
"""Run inside the environment: is every file that was installed still there?"""


@dataclass(frozen=True)
class Environment:
    """A ready environment: where its programs are, and the settings to run them with."""

    folder: Path

    @property
    def programs(self) -> Path:
        """Return the folder of its commands."""
        return self.folder / ("Scripts" if os.name == "nt" else "bin")

    def command(self, name: str) -> Path:
        """Return the path of one of its commands."""
        return self.programs / (name + (".exe" if os.name == "nt" else ""))

    def settings(self) -> dict:
        """Return the environment variables for what runs in it."""
        env = clean_settings()
        env["PATH"] = os.pathsep.join([str(self.programs), env.get("PATH", os.defpath)])
        env["VIRTUAL_ENV"] = str(self.folder)
        return env


def clean_settings() -> dict:
    """Return this shell's variables without those that would lead outside the checkout."""
    env = {name: value for name, value in os.environ.items() if name not in BENDING}
    temporary = str(TEMPORARY)
    env.update(
        PIP_USER="0",
        PIP_CACHE_DIR=str(MADE / "cache" / "pip"),
        PIP_DISABLE_PIP_VERSION_CHECK="1",
        PIP_NO_INPUT="1",
        UV_CACHE_DIR=str(MADE / "cache" / "uv"),
        UV_PYTHON_DOWNLOADS="never",
        # Trust what this machine trusts, as pip does; the name depends on the version of uv.
        UV_NATIVE_TLS="1",
        UV_SYSTEM_CERTS="1",
        XDG_CACHE_HOME=str(MADE / "cache"),
        MPLCONFIGDIR=str(MADE / "cache" / "matplotlib"),
        TMPDIR=temporary,
        TEMP=temporary,
        TMP=temporary,
        PYTHONNOUSERSITE="1",
        PYTHONUTF8="1",
    )
    return env


@contextlib.contextmanager
def held(name: str):
    """Hold a lock inside demo/made/, waiting for another start to finish; yield its descriptor.

    The lock goes with the processes that hold it, so one that was killed leaves none behind.
    """
    with (MADE / f"{name}.lock").open("a+b") as file:
        if not taken(file):
            say("Another start is at work here; waiting for it ", end="")
            while not taken(file):
                time.sleep(1)
                say(".", end="")
            say("")
        yield file.fileno()


def taken(file) -> bool:
    """Try to lock a file and return whether that went well."""
    try:
        if os.name == "nt":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def lay_out() -> None:
    """Make demo/made/ with a folder for this start's temporary files."""
    try:
        (MADE / "cache").mkdir(parents=True, exist_ok=True)
        TEMPORARY.mkdir(parents=True, exist_ok=True)
        probe = TEMPORARY / "probe"
        probe.write_bytes(b"x" * 4096)
        probe.unlink()
    except OSError as error:
        raise Trouble(f"Cannot set up in {MADE}: {plain(error)}.") from error


def tidy_up() -> None:
    """Remove this start's temporary files."""
    shutil.rmtree(TEMPORARY, ignore_errors=True)


def recipe(locked: str) -> str:
    """Return a digest of all that the environment is made from, a lock file among it."""
    parts = [
        (ROOT / "pyproject.toml").read_bytes(),
        (ROOT / locked).read_bytes(),
        *(Path(__file__).with_name(name).read_bytes() for name in MAKERS),
        f"{sys.version} {sys.executable} {ROOT} {locked}".encode(),
    ]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def is_ready(environment: Environment, digest: str) -> bool:
    """Return whether a finished environment of this very recipe is there, and whole."""
    mark = environment.folder / "ready.json"
    try:
        if json.loads(mark.read_text("utf-8")).get("recipe") != digest:
            return False
    except (OSError, ValueError, AttributeError):
        return False
    try:
        command = [str(environment.command("python")), "-I", "-c", WHOLE]
        return subprocess.run(command, capture_output=True, timeout=60).returncode == 0
    except (OSError, subprocess.TimeoutExpired):
        return False


def shown(path: Path) -> str:
    """Return a path as seen from the checkout.

    >>> shown(ROOT / "demo" / "made").replace(os.sep, "/")
    'demo/made'
    """
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)


def how_to_remove() -> str:
    """Return the sentence that says how to remove all that was made."""
    return f"To remove everything that was made, delete the folder {shown(MADE)}."


def guarded(work, *arguments) -> int:
    """Do the work; turn trouble and Ctrl-C into one sentence and an exit status."""
    try:
        lay_out()
        try:
            return work(*arguments)
        finally:
            tidy_up()
    except Trouble as trouble:
        print(f"\n{trouble}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print(f"\nStopped; start again to go on. {how_to_remove()}", file=sys.stderr)
        return 130
