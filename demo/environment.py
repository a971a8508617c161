"""A private Python environment inside the checkout, made once and rebuilt when it is broken.

Everything that it makes lies in demo/made/, pip's cache and temporary files
included: to remove it all, delete that folder. Standard library only.
"""

import contextlib
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from running import Run, Trouble, explain, plain, run, say

ROOT = Path(__file__).resolve().parent.parent
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
        "__PYVENV_LAUNCHER__",
        "UV_PYTHON",
        "UV_TARGET",
        "UV_PROJECT_ENVIRONMENT",
        "UV_SYSTEM_PYTHON",
    }
)
"""Settings of the person's own shell that would bend the environment or send files elsewhere."""

WHOLE = """
import importlib.metadata as metadata, os, sys
for found in metadata.distributions():
    for file in found.files or ():
        if file.suffix != '.pyc' and not os.path.exists(found.locate_file(file)):
            sys.exit('%s is not whole' % found.name)
metadata.version('ear-recall')
"""
"""Run inside the environment: is every file that was installed still there?"""
ROOM_NEEDED = 16_000_000
"""With fewer bytes than this left, a failed step failed for want of room."""
REMOVE = "import shutil, sys; shutil.rmtree(sys.argv[1])"


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


def recipe(extras: str) -> str:
    """Return a digest of all that the environment is made from."""
    parts = [
        (ROOT / "pyproject.toml").read_bytes(),
        Path(__file__).read_bytes(),
        f"{sys.version} {sys.executable} {ROOT} {extras}".encode(),
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


class Maker:
    """Makes one environment, step by step."""

    def __init__(self, environment: Environment, extras: str, lock: int) -> None:
        self.environment = environment
        self.wanted = f"{ROOT}[{extras}]" if extras else str(ROOT)
        self.log = MADE / f"{environment.folder.name}.log"
        self.lock = lock

    def step(self, command, saying: str) -> tuple[bool, str]:
        """Run one command of the making, from a folder where nothing of ours is importable."""
        env = {**clean_settings(), "PYTHONDONTWRITEBYTECODE": "1"}
        how = Run(env, TEMPORARY, self.log, keep_open=(self.lock,))
        status, wrote = run(command, saying, how)
        return status == 0, wrote

    def make(self) -> None:
        """Make the environment and install into it, or say why not."""
        self.log.write_bytes(b"")
        if not (self.by_uv() or self.by_venv() or self.by_outside_pip()):
            raise self.trouble(self.log.read_text("utf-8", "replace"))

    def trouble(self, wrote: str) -> Trouble:
        """Return what to tell the person about a failed step."""
        # A full disk often keeps the log, too, from saying so.
        full = shutil.disk_usage(MADE).free < ROOM_NEEDED
        why = "the disk is full" if full else explain(wrote)
        return Trouble(f"Installing did not work: {why}. (Details: {shown(self.log)})")

    def emptied(self) -> Path:
        """Remove what a former start left in the environment's folder, and return it."""
        folder = self.environment.folder
        if folder.exists():
            command = [sys.executable, "-c", REMOVE, folder]
            if not self.step(command, "Clearing away what a former start left")[0]:
                raise Trouble(f"{shown(folder)} cannot be removed; remove it and start again.")
        return folder

    def by_uv(self) -> bool:
        """Use uv where the person has it."""
        uv = shutil.which("uv")
        if not uv:
            return False
        folder = self.emptied()
        python = self.environment.command("python")
        made, _ = self.step(
            [uv, "venv", "--no-config", "--python", sys.executable, folder],
            "Making a private Python environment",
        )
        install = [uv, "pip", "install", "--python", python, "-e", self.wanted]
        return made and self.step(install, "Installing the libraries with uv")[0]

    def by_venv(self) -> bool:
        """Use Python's own venv with its own pip."""
        if importlib.util.find_spec("ensurepip") is None:
            return False
        venv = [sys.executable, "-m", "venv", self.emptied()]
        if not self.step(venv, "Making a private Python environment")[0]:
            return False
        pip = [self.environment.command("python"), "-m", "pip"]
        done, wrote = self.step([*pip, "install", "-e", self.wanted], "Installing the libraries")
        if not done:
            raise self.trouble(wrote)
        return True

    def by_outside_pip(self) -> bool:
        """Let the system's pip install into the environment, where Python lacks its own."""
        if importlib.util.find_spec("pip") is None:
            raise Trouble(
                "This Python can make no environments: install the package python3-venv "
                "(Debian, Ubuntu) or a Python from python.org, then start again."
            )
        venv = [sys.executable, "-m", "venv", "--without-pip", self.emptied()]
        if not self.step(venv, "Making a private Python environment")[0]:
            return False
        pip = [sys.executable, "-m", "pip", "--python", self.environment.command("python")]
        done, wrote = self.step([*pip, "install", "-e", self.wanted], "Installing the libraries")
        if "no such option: --python" in wrote:
            raise Trouble(
                "This system's pip is too old: install the package python3-venv, then start again."
            )
        return done


def shown(path: Path) -> str:
    """Return a path as seen from the checkout.

    >>> shown(ROOT / "demo" / "made").replace(os.sep, "/")
    'demo/made'
    """
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)


def ready(name: str, extras: str, lock: int) -> Environment:
    """Return the environment of that name in demo/made/, making it where it is not whole."""
    environment = Environment(MADE / name)
    digest = recipe(extras)
    if is_ready(environment, digest):
        return environment
    try:
        leftover = ROOT / "ear_recall.egg-info"
        was_there = leftover.exists()
        Maker(environment, extras, lock).make()
        if not was_there:
            shutil.rmtree(leftover, ignore_errors=True)
        mark = environment.folder / "ready.json"
        mark.with_suffix(".part").write_text(json.dumps({"recipe": digest}), "utf-8")
        os.replace(mark.with_suffix(".part"), mark)
    except OSError as error:
        raise Trouble(f"Cannot set up in {environment.folder}: {plain(error)}.") from error
    return environment


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
