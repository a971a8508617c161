"""The licence of each locked library, and what is known to be unsafe of it. Run by hand.

    python tests/tools/libraries.py            the licences, from what is installed
    python tests/tools/libraries.py --unsafe   also ask for known vulnerabilities

The question about vulnerabilities needs the package index, and goes through pip-audit, which is
installed for it in an environment of its own that is removed afterwards. Ends with 1 where a
licence is not among those that were looked at, where something unsafe is known, or where nobody
could be asked.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import venv
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ("requirements.txt", "requirements-dev.txt")
FINE = re.compile(
    r"mit\b|\bbsd|apache|\bisc\b|psf|python software foundation|unlicen[cs]e|zlib|mpl|mozilla"
    r"|lgpl|lesser general public",
    re.IGNORECASE,
)
"""What may be used by a program under the MIT licence: permissive, or for whole files or libraries
that are used unchanged (MPL, LGPL)."""
LOOKED_AT = {"resvg-py": "MIT"}
"""Libraries whose licence is only in a file of theirs."""


def locked(name: str) -> Iterator[Requirement]:
    """Give what a lock file of the checkout pins."""
    text = (ROOT / name).read_text("utf-8").replace("\\\n", " ")
    for line in text.splitlines():
        if line[:1].strip(" #"):
            yield Requirement(line.partition(" --hash")[0])


def licence(name: str) -> str:
    """Return what an installed library says of its licence, in one line; empty if nothing."""
    told = metadata(name)
    kinds = [c for c in told.get_all("Classifier") or () if c.startswith("License ::")]
    short = [kind.rpartition(" :: ")[2] for kind in kinds]
    long = str(told.get("License") or "").strip().partition("\n")[0]
    return str(told.get("License-Expression") or " or ".join(short) or long)


def licences(lock: str) -> dict[str, str]:
    """Return the licence of each library of a lock file that is installed here."""
    found = {}
    for one in locked(lock):
        if one.marker is None or one.marker.evaluate():
            try:
                found[one.name] = LOOKED_AT.get(one.name) or licence(one.name)
            except PackageNotFoundError:
                found[one.name] = "not installed here"
    return dict(sorted(found.items()))


def to_look_at(found: dict[str, str]) -> list[str]:
    """Return the libraries whose licence nobody has looked at."""
    return [name for name, says in found.items() if not FINE.search(says)]


def ask_what_is_unsafe(lock: str) -> bool:
    """Print what is known to be unsafe of a lock file; return whether all could be asked about."""
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python = next(Path(folder).glob("[bS]*/python*"))
        asked = subprocess.run([python, "-m", "pip", "install", "-q", "pip-audit"], check=False)
        if asked.returncode:
            print("pip-audit could not be installed; is the package index within reach?")
            return False
        audit = [python, "-m", "pip_audit", "--strict", "--no-deps", "--disable-pip"]
        return not subprocess.run([*audit, "-r", ROOT / lock], check=False).returncode


def main() -> None:
    """Print the licences, and with --unsafe what is known of each library."""
    found = licences(LOCKS[1])
    for name, says in found.items():
        print(f"{name:<28} {says}")
    unseen = to_look_at(found)
    if unseen:
        print(f"To be looked at: {', '.join(unseen)}.")
    asked = [ask_what_is_unsafe(lock) for lock in LOCKS if "--unsafe" in sys.argv[1:]]
    sys.exit(bool(unseen) or not all(asked))


if __name__ == "__main__":
    main()
