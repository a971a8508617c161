"""`recall sign-in`, `recall sign-out`, and what `recall staff` does about signing in."""

from __future__ import annotations

from pathlib import Path

import click

from recall.cli.practice.staff import staff
from recall.cli.shared.common import by_whom, desk, emit_lines, in_config, say, settings
from recall.cli.shared.signed import (
    forget_token,
    keep_token,
    new_secret,
    token,
    typed_secret,
)
from recall.clock import Clock
from recall.errors import InputError

_handle = click.argument("handle")


@click.command("sign-in")
@_handle
@in_config
def sign_in(handle: str, config: Path | None) -> None:
    """Sign in as HANDLE for the plain commands; the password is typed and not shown.

    It ends after the hours of [desk] session_hours without a command, after a day, or by
    recall sign-out.
    """
    from recall.desk.core.opening import open_register
    from recall.desk.signing.codes import waiting_asks
    from recall.desk.signing.passwords import prove
    from recall.desk.signing.sessions import begin

    practice = settings(config)
    clock = Clock(practice.calendar.time_zone)
    store = open_register(practice.files)
    try:
        member = prove(store, clock, handle, typed_secret(f"Password of {handle.lower()}"))
        keep_token(practice, begin(store, clock, member))
        waiting = waiting_asks(store, clock.now())
    finally:
        store.close()
    say(f"{member.handle} is signed in. recall sign-out ends it.")
    for each in waiting:
        say(f"Somebody asked for a code that sets a new password for {each}.")


@click.command("sign-out")
@in_config
def sign_out(config: Path | None) -> None:
    """End the session of the plain commands."""
    from recall.desk.core.opening import open_register
    from recall.desk.signing.sessions import end

    practice = settings(config)
    text = token(practice)
    was = False
    if text is not None:
        store = open_register(practice.files)
        try:
            was = end(store, Clock(practice.calendar.time_zone), text)
        finally:
            store.close()
    forget_token(practice)
    say("Signed out." if was else "Nobody was signed in.")


@staff.command("password")
@_handle
@in_config
def password(handle: str, config: Path | None) -> None:
    """Set the password of HANDLE, by the present one or by a code; it is typed twice.

    The very first of a register is set by the account that owns its file. From then on
    everybody signs in.
    """
    from recall.desk.core.opening import open_register
    from recall.desk.signing import codes, passwords

    practice = settings(config)
    clock, place = Clock(practice.calendar.time_zone), practice.practice.name
    store = open_register(practice.files)
    try:
        first = not passwords.anybody_has_one(store) and not codes.waits_for_code(store, handle)
        if first:
            codes.only_owner(store)
            member = passwords.set_first(store, clock, handle, new_secret(), place=place)
        else:
            old = typed_secret("The present password, or the code")
            new = new_secret()
            member = passwords.set_password(store, clock, handle, old, new, place=place)
    finally:
        store.close()
    say(f"The password of {member.handle} is set.")
    if first:
        say("From now on everybody signs in. Others get theirs by: recall staff code HANDLE.")


@staff.command("code")
@_handle
@in_config
@by_whom
def code(handle: str, config: Path | None, by: str | None) -> None:
    """Give HANDLE a code that sets a new password, once, within the hour.

    The manager gives it alone, as does whoever takes somebody on; otherwise two people do, one
    after the other. Where nobody can sign in, the account that owns the register's file asks,
    and again another day, or three days later where several work here.
    """
    from recall.desk.core.opening import open_register
    from recall.desk.core.proof import NotSignedIn
    from recall.desk.signing.codes import code_for_owner, give_code

    practice = settings(config)
    try:
        with desk(config, by, None) as opened:
            made = give_code(opened, handle)
        then = "Now somebody else does the same within the hour."
    except NotSignedIn:
        store = open_register(practice.files)
        try:
            made = code_for_owner(store, Clock(practice.calendar.time_zone), handle)
        finally:
            store.close()
        then = "Ask again another day; where several work here, three days later."
    if made is None:
        say(f"It is noted that a code for {handle.lower()} is asked for. {then}")
        return
    emit_lines(made)
    say(f"With it {handle.lower()} sets a password: recall staff password {handle.lower()}.")


@staff.command("account")
@_handle
@click.argument("account", metavar="ACCOUNT", required=False)
@click.option("--none", "none", is_flag=True, help="No account any more.")
@in_config
@by_whom
def account(
    handle: str, account: str | None, none: bool, config: Path | None, by: str | None
) -> None:
    """Let the operating system's ACCOUNT be HANDLE in plain commands, without a password.

    For jobs it is the account that runs them.
    """
    from recall.desk.signing.accounts import bind

    if (account is None) != none:
        raise InputError("Name an account.", hint="Or --none, to take it away.")
    with desk(config, by, None) as opened:
        member = bind(opened, handle, account or "")
    say(f"{member.handle} is the account {account}." if account else f"{member.handle} has none.")


@staff.command("no-passwords")
@click.option("--yes", is_flag=True, help="Do not ask.")
@in_config
@by_whom
def no_passwords(yes: bool, config: Path | None, by: str | None) -> None:
    """Take all passwords, codes and accounts away: a name alone is believed again.

    Then nobody is kept from acting as somebody else, and who looks at whom is not noted.
    """
    from recall.cli.shared.common import agreed
    from recall.desk.core.rights import Right
    from recall.desk.signing.passwords import take_all_away

    with desk(config, by, None) as opened:
        opened.require(Right.KEEP_STAFF)
        if not agreed("From now on a name alone is believed?", yes):
            return
        take_all_away(opened.store, Clock(opened.clock.zone), opened.by)
    forget_token(settings(config))
    say("A name alone is believed now, where recall.toml does not say sign_in = true.")
