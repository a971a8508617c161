"""Whose process a run of a job is, and whether it is still there."""

from __future__ import annotations

import os
import secrets
import socket
import sys


def this_runner() -> str:
    """Return the name of a run's process: machine, number, and what tells two runs apart."""
    return f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"


def is_gone(runner: str) -> bool:
    """Return whether a runner's process is known to be there no more.

    Only the machine that it ran on can tell; of any other its silence has to.
    """
    host, _, rest = runner.partition(":")
    number = rest.partition(":")[0]
    if host != socket.gethostname() or not number.isdigit() or sys.platform == "win32":
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
