"""Run another program with signs of life, and say in one sentence what went wrong.

Standard library only: it runs before anything is installed.
"""

import contextlib
import errno
import os
import re
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path


class Trouble(Exception):
    """Something that the person who started this can put right, in one sentence."""


REASONS = (
    (r"No space left on device|Errno 28|There is not enough space on the disk", "the disk is full"),
    (r"Read-only file system|Errno 30", "the checkout is on a read-only disk"),
    (r"Permission denied|Errno 13|Access is denied", "a file may not be written here"),
    (
        r"name resolution|getaddrinfo|NewConnectionError|ConnectionError|Connection refused"
        r"|Network is unreachable|ConnectTimeout|ProxyError|timed out|dns error|Failed to fetch",
        "the package index could not be reached; check the network or the proxy, then start again",
    ),
    (
        r"DO NOT MATCH THE HASHES|[Hh]ash mismatch",
        "a library that was fetched is not the one that the lock file names",
    ),
    (r"CERTIFICATE_VERIFY_FAILED|SSLError", "the package index's certificate was not accepted"),
    (
        r"No matching distribution|Could not find a version|No solution found",
        "the package index could not be reached, or offers no library that fits this Python",
    ),
)
"""What a log says, and what that means to the person who reads it."""


def plain(error: OSError) -> str:
    """Return in words why a file could not be written."""
    words = {
        errno.ENOSPC: "the disk is full",
        errno.EROFS: "the checkout is on a read-only disk",
        errno.EACCES: "the checkout may not be written to; copy it to a folder of your own",
        errno.EPERM: "the checkout may not be written to; copy it to a folder of your own",
    }
    return words.get(error.errno or 0, str(error))


def explain(log_text: str) -> str:
    """Return in words why a child failed: a known reason, or the last line it wrote.

    >>> explain("ERROR: Could not install: [Errno 28] No space left on device")
    'the disk is full'
    """
    for pattern, reason in REASONS:
        if re.search(pattern, log_text):
            return reason
    lines = [line.strip() for line in log_text.splitlines() if line.strip()]
    return lines[-1] if lines else "it wrote nothing"


def say(line: str, end: str = "\n") -> None:
    """Print at once, whatever the terminal's alphabet."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(line.encode(encoding, "replace").decode(encoding) + end)
    sys.stdout.flush()


@contextlib.contextmanager
def ended_with_us(child: subprocess.Popen):
    """Leave no child behind: end it when we are stopped."""
    try:
        yield child
    except BaseException:
        with contextlib.suppress(OSError):
            child.terminate()
        try:
            child.wait(timeout=10)
        except (subprocess.TimeoutExpired, KeyboardInterrupt):
            child.kill()
            child.wait()
        raise


def wait_ticking(child: subprocess.Popen) -> int:
    """Wait for a child, with a dot for each second, and return its exit status."""
    while True:
        try:
            return child.wait(timeout=1)
        except subprocess.TimeoutExpired:
            say(".", end="")


@dataclass(frozen=True)
class Run:
    """How one command is run: its settings, where, and where its words go."""

    env: dict
    cwd: Path
    log: Path
    """Gets, at its end, what the command writes."""
    into: Path | None = None
    """Gets what it writes to standard output, where that is a file of its own."""
    keep_open: tuple[int, ...] = ()
    """File descriptors that the child keeps, so that a lock outlives us."""


def run(command, saying: str, how: Run) -> tuple[int, str]:
    """Run a command behind one ticking line; return its exit status and what it logged."""
    say(f"{saying} ", end="")
    began = time.monotonic()
    with contextlib.ExitStack() as files:
        log = files.enter_context(how.log.open("a+b"))
        log.write(f"$ {' '.join(map(str, command))}\n".encode())
        log.flush()
        start = log.seek(0, os.SEEK_END)
        child = subprocess.Popen(
            [str(part) for part in command],
            env=how.env,
            cwd=how.cwd,
            stdin=subprocess.DEVNULL,
            stdout=files.enter_context(how.into.open("wb")) if how.into else log,
            stderr=log,
            pass_fds=() if os.name == "nt" else how.keep_open,
        )
        with ended_with_us(child):
            status = wait_ticking(child)
        log.seek(start)
        wrote = log.read().decode(errors="replace")
    say(f" {time.monotonic() - began:.1f} s" if status == 0 else f" ended with {status}")
    return status, wrote
