"""Who runs a plain command where everybody signs in: the token file, and passwords typed."""

from __future__ import annotations

import hashlib
import os
import sys
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from recall import output
from recall.clock import Clock
from recall.errors import InputError, Refused, StorageError

if TYPE_CHECKING:
    from recall.config import Config
    from recall.desk.core.proof import Proof
    from recall.desk.core.session import StaffRow
    from recall.records.database.store import Store

_OTHERS = 0o077
"""The rights of anybody but the owner."""


def proof_of(practice: Config) -> Proof:
    """Return the proof of whoever runs a command here."""

    def proved(store: Store, clock: Clock) -> StaffRow:
        from recall.desk.signing.proofs import by_session

        idle = timedelta(hours=practice.desk.session_hours)
        return by_session(token(practice), idle)(store, clock)

    return proved


def acting_handle(
    practice: Config, store: Store, by: str | None, *, first: bool = False
) -> str | None:
    """Return who acts on the staff table, by name where a name alone is believed.

    None where nobody is named, or for the `first` who may decide, before whom nobody can sign in.
    """
    from recall.desk.core.proof import proven, signs_in
    from recall.desk.core.session import staff

    if not signs_in(practice, store):
        return by or practice.staff.default or None
    if first and not any(each.may_decide and each.left_on is None for each in staff(store)):
        return None
    return proven(store, Clock(practice.calendar.time_zone), by, proof_of(practice)).handle


def named_or_signed(practice: Config, by: str | None) -> str | None:
    """Return who acts on a register that may be gone, and then cannot say who signed in."""
    from recall.records.database.store import open_store

    try:
        store = open_store(practice.files.database)
    except StorageError:
        return by or practice.staff.default or None
    try:
        return acting_handle(practice, store, by)
    finally:
        store.close()


def token(practice: Config) -> str | None:
    """Return the token of this account's session on a register, or None.

    Raises:
        Refused: others can read the file.
    """
    path = _file(practice)
    with suppress(OSError):
        if os.name == "posix" and path.stat().st_mode & _OTHERS:
            raise Refused(
                f"Others can read {path}: that session is not used.", hint="Sign in again."
            )
        return path.read_text("ascii").strip() or None
    return None


def keep_token(practice: Config, text: str) -> None:
    """Keep the token of a session, for this account alone."""
    path = _file(practice)
    forget_token(practice)
    output.write(path, text.encode("ascii"), named_here=True)


def forget_token(practice: Config) -> None:
    """Take the token of this account's session away."""
    _file(practice).unlink(missing_ok=True)


def _file(practice: Config) -> Path:
    """Return where the token of a register is kept: in the account's own folder of states."""
    named = os.environ.get("XDG_STATE_HOME") or os.environ.get("LOCALAPPDATA")
    folder = Path(named) if named else Path.home() / ".local" / "state"
    register = hashlib.sha256(str(practice.files.database.resolve()).encode()).hexdigest()
    return folder / "ear-recall" / f"{register[:16]}.session"


def typed_secret(question: str) -> str:
    """Return a password that somebody types at a terminal; it is not shown.

    Raises:
        InputError: nobody is there.
    """
    if not sys.stdin.isatty():
        raise InputError(
            "A password is typed at a terminal.",
            hint="Programs run by an account of the system: recall staff account.",
        )
    answer: str = click.prompt(question, hide_input=True, err=True, default="", show_default=False)
    return answer


def new_secret() -> str:
    """Return a new password, typed twice.

    Raises:
        InputError: the two differ, or nobody is there.
    """
    first = typed_secret("The new password, 15 characters or more")
    if first != typed_secret("The same once more"):
        raise InputError("The two differ; nothing was changed.", hint="Type it again.")
    return first
