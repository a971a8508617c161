"""Make the private environment: the libraries by their lock file, each by its hash, then us.

By uv where the person has it, by Python's own venv and pip, or by the system's pip where
Python lacks its own. This project is built with the locked builder, so that building
fetches nothing. Standard library only.
"""

import importlib.util
import json
import os
import shutil
import sys
from pathlib import Path

import environment as setting
from environment import ROOT, Environment, clean_settings, shown
from running import Run, Trouble, explain, plain, run

ROOM_NEEDED = 16_000_000
"""With fewer bytes than this left, a failed step failed for want of room."""
REMOVE = "import shutil, sys; shutil.rmtree(sys.argv[1])"


class Maker:
    """Makes one environment, step by step."""

    def __init__(self, environment: Environment, locked: str, lock: int) -> None:
        self.environment = environment
        self.locked = ROOT / locked
        self.log = setting.MADE / f"{environment.folder.name}.log"
        self.lock = lock

    def step(self, command, saying: str) -> tuple[bool, str]:
        """Run one command of the making, from a folder where nothing of ours is importable."""
        env = {**clean_settings(), "PYTHONDONTWRITEBYTECODE": "1"}
        how = Run(env, setting.TEMPORARY, self.log, keep_open=(self.lock,))
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
        full = shutil.disk_usage(setting.MADE).free < ROOM_NEEDED
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

    def install(self, installer: list) -> tuple[bool, str]:
        """Install the locked libraries, then this project as it stands; return how it went."""
        libraries = ["--require-hashes", "-r", self.locked]
        done, wrote = self.step([*installer, *libraries], "Installing the libraries")
        if not done:
            return False, wrote
        ours = ["--no-deps", "--no-build-isolation", "-e", ROOT]
        return self.step([*installer, *ours], "Installing the program")

    def by_uv(self) -> bool:
        """Use uv where the person has it."""
        uv = shutil.which("uv")
        if not uv:
            return False
        folder = self.emptied()
        made, _ = self.step(
            [uv, "venv", "--no-config", "--python", sys.executable, folder],
            "Making a private Python environment with uv",
        )
        python = self.environment.command("python")
        return made and self.install([uv, "pip", "install", "--python", python])[0]

    def by_venv(self) -> bool:
        """Use Python's own venv with its own pip."""
        if importlib.util.find_spec("ensurepip") is None:
            return False
        venv = [sys.executable, "-m", "venv", self.emptied()]
        if not self.step(venv, "Making a private Python environment")[0]:
            return False
        done, wrote = self.install([self.environment.command("python"), "-m", "pip", "install"])
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
        python = self.environment.command("python")
        done, wrote = self.install([sys.executable, "-m", "pip", "--python", python, "install"])
        if "no such option: --python" in wrote:
            raise Trouble(
                "This system's pip is too old: install the package python3-venv, then start again."
            )
        return done


def ready(name: str, locked: str, lock: int) -> Environment:
    """Return the environment of that name in demo/made/, making it where it is not whole."""
    environment = Environment(setting.MADE / name)
    digest = setting.recipe(locked)
    if setting.is_ready(environment, digest):
        return environment
    try:
        leftover = ROOT / "ear_recall.egg-info"
        was_there = leftover.exists()
        Maker(environment, locked, lock).make()
        if not was_there:
            shutil.rmtree(leftover, ignore_errors=True)
        mark = environment.folder / "ready.json"
        mark.with_suffix(".part").write_text(json.dumps({"recipe": digest}), "utf-8")
        os.replace(mark.with_suffix(".part"), mark)
    except OSError as error:
        raise Trouble(f"Cannot set up in {environment.folder}: {plain(error)}.") from error
    return environment
