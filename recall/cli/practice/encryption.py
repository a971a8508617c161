"""`recall encryption`: encrypt the register, another key, the key on paper."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from recall.cli.shared.common import CONTEXT, by_whom, emit, in_config, say, settings
from recall.cli.shared.signed import named_or_signed
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.config import Config
    from recall.desk.practice.encrypting import Gone


@click.group(context_settings=CONTEXT)
def encryption() -> None:
    """Encrypt the register and its backups: begin, change the key, show it, enter it."""


@encryption.command()
@in_config
@by_whom
def begin(config: Path | None, by: str | None) -> None:
    """Encrypt the register, its backups and what is kept of letters.

    Close all desks and jobs. The key is shown first: whoever loses it has lost the register.
    """
    from recall.desk.practice import encrypting

    practice, who = _who(config, by)
    code = encrypting.key_for(practice, who)
    _on_paper(code)
    _tell(encrypting.begin(practice, who, code))


@encryption.command()
@in_config
@by_whom
def change(config: Path | None, by: str | None) -> None:
    """Give the register, its backups and what is kept of letters a new key.

    Close all desks and jobs. Cut off half way, it goes on when it is repeated.
    """
    from recall.desk.practice import encrypting

    practice, who = _who(config, by)
    code = encrypting.key_for(practice, who)
    _on_paper(code)
    _tell(encrypting.change(practice, who, code))


@encryption.command()
@in_config
@by_whom
def show(config: Path | None, by: str | None) -> None:
    """Print the key, for paper that is locked away. That it was shown is in the history."""
    from recall.desk.practice import encrypting

    practice, who = _who(config, by)
    emit(f"{encrypting.show(practice, who)}\n")


@encryption.command()
@in_config
def enter(config: Path | None) -> None:
    """Take the key from paper, where the file or keyring that held it is gone.

    It is typed unseen, or comes by a pipe.
    """
    from recall.desk.practice import encrypting

    practice = settings(config)
    if sys.stdin.isatty():
        typed = click.prompt("Key of the register", hide_input=True, err=True)
    else:
        typed = sys.stdin.readline(200)
    encrypting.enter(practice, typed)
    say("The key is kept where the settings say.")


def _who(config: Path | None, by: str | None) -> tuple[Config, str]:
    practice = settings(config)
    who = (named_or_signed(practice, by) or "").strip()
    if not who and practice.files.database.exists():
        raise InputError("Nobody is named as acting.", hint="Add --by HANDLE.")
    return practice, who


def _on_paper(code: str) -> None:
    """Show the key; a person types it back, so that it is on paper before it counts."""
    say("The key of the register. Write it down and lock it away, not beside the machine:")
    emit(f"{code}\n")
    if not sys.stdin.isatty():
        return
    from recall.records.database.keys import checked

    if checked(click.prompt("Type it, from paper", err=True)) != code:
        raise InputError("That is another key.", hint="Nothing was changed; begin again.")


def _tell(done: Gone) -> None:
    if not done.register:
        say("The key is kept. recall set-up makes the register with it.")
        return
    say("The register is encrypted with this key.")
    say(f"So are {done.backups} backups and {done.letters} files of letters.")
    say("Copies that lie elsewhere, and papers, are as they were.")
