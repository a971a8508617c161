"""The Pythons of this machine that the project serves. Standard library only."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

SERVED = ("3.11", "3.12", "3.13")
OWN = "{}.{}".format(*sys.version_info[:2])
ASKED = "import sys; print('{}.{}'.format(*sys.version_info[:2]))"


def others() -> dict[str, str]:
    """Return the other Pythons that are served and start, by version: of the path, or of pyenv."""
    kept = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    found = {}
    for version in SERVED:
        places = (shutil.which(f"python{version}"), *sorted(kept.glob(f"{version}.*/bin/python")))
        starting = (str(each) for each in places if each and version_of(str(each)) == version)
        if version != OWN and (python := next(starting, None)):
            found[version] = python
    return found


def version_of(python: str) -> str:
    """Return the version of a Python, or nothing where it does not start."""
    try:
        ran = subprocess.run([python, "-I", "-c", ASKED], capture_output=True, text=True)
    except OSError:
        return ""
    return ran.stdout.strip()
