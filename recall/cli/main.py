"""The command `recall`: finds the command's module, runs it, and says what went wrong.

The only place that catches. An error with a sentence for a person gives that sentence and the
exit status of whoever must act; anything else goes whole into a log file beside the database.
"""

from __future__ import annotations

import importlib
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from recall.cli.shared import common
from recall.clock import Clock
from recall.errors import InputError, RecallError

COMMANDS: dict[str, tuple[str, str]] = {
    "set-up": (
        "practice.setting_up:set_up",
        "Make the database and the first clinician.",
    ),
    "upgrade": ("practice.setting_up:upgrade", "Bring the database to this version."),
    "staff": ("practice.signing:staff", "Who acts: list, add, left, passwords."),
    "sign-in": ("practice.signing:sign_in", "Sign in for the plain commands."),
    "sign-out": ("practice.signing:sign_out", "End that."),
    "import": (
        "practice.importing:import_",
        "Take in people, visits, contacts, bookings, referrals, tests.",
    ),
    "replan": ("practice.importing:replan", "Plan whoever waits to be planned."),
    "confirm": (
        "visits.confirming:confirm",
        "Confirm the plans that wait for a clinician.",
    ),
    "changeover": (
        "visits.changeover:changeover",
        "History from before you went live: look through it.",
    ),
    "plan": ("visits.plan:plan", "Work out one case file, or many; needs no database."),
    "close": ("visits.visits:close", "Close a visit: findings in, plan out."),
    "correct": (
        "visits.visits:correct",
        "Correct a visit; the person is planned again.",
    ),
    "void": ("visits.visits:void", "Void a visit; the person is planned again."),
    "line": (
        "visits.lines:line",
        "Strike out, move, raise or lower a line of a plan.",
    ),
    "queue": ("calls.lists:queue", "Who to contact on a day."),
    "overdue": ("calls.lists:overdue", "Whose latest day has gone by, booked or not."),
    "lost": ("calls.lists:lost", "For whom every contact step is used up."),
    "referrals": ("calls.lists:referrals", "Which referrals are to be chased."),
    "matters": (
        "practice.matters:matters",
        "Interpreters, complaints, incidents, messages.",
    ),
    "contact": ("calls.contact:contact", "Log a contact and see what is next."),
    "book": ("calls.booking:book", "Make an appointment for a follow-up."),
    "appointments": ("calls.appointments:appointments", "Who comes on a day."),
    "booking": ("calls.booking:booking", "Move, call off, attended, missed; its file."),
    "refer": (
        "referrals.referral:refer",
        "What became known of a referral; its letter.",
    ),
    "decide": ("manager.decide:decide", "Decide about follow-ups, shown first."),
    "undo": ("calls.contact:undo", "Take back your own last action of today."),
    "find": ("people.person:find", "Find people by whatever they say."),
    "person": ("people.entering:person", "One person's story, card and changes."),
    "accounts": ("manager.accounts:accounts", "What became of every ask, state by state."),
    "ahead": ("manager.ahead:ahead", "The work of the coming weeks; levelled; what if."),
    "failsafe": ("manager.failsafe:failsafe", "Go over the register for who falls out."),
    "history": ("manager.failsafe:history", "Check that the history is whole."),
    "explain": ("protocol.protocols:explain", "Why a plan is what it is, step by step."),
    "protocol": (
        "protocol.learning:protocol",
        "Read, check, compare, adopt, sign the rules.",
    ),
    "desk": (
        "practice.desk:desk",
        "The terminal screens; --demo for an invented practice.",
    ),
    "letters": ("post.letters:letters", "The week's letters."),
    "jobs": (
        "practice.jobs:jobs",
        "The jobs: run what is due, serve, say where they stand.",
    ),
    "report": ("manager.report:report", "The register's month in numbers."),
    "backup": ("manager.report:backup", "A checked copy of the database, now."),
    "restore": ("manager.report:restore", "Put a backup in place; shows what is lost first."),
    "move-to": ("practice.moving:move_to", "Move the register to a server, or to a file."),
    "encryption": (
        "practice.encryption:encryption",
        "Encrypt the register; its key on paper, or another.",
    ),
    "retention": (
        "practice.retention:retention",
        "Whose record has been kept as long as the rules ask.",
    ),
    "manual": ("practice.manual:manual", "The manual: which pages there are, or one of them."),
}
"""Every command: where it is, and what it does in one line for the overview."""

OK, UNEXPECTED, USAGE, STOPPED, CUT_OFF = 0, 1, 2, 130, 141
"""Exit statuses; those of `recall.errors` come beside them. The last two are the shell's own
for an interrupt and for a reader who went away."""


class Commands(click.Group):
    """The commands, each imported when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, imported."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name][0].partition(":")
        found: click.Command = getattr(importlib.import_module(f"recall.cli.{module}"), name)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview from the table, without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_where, says) in COMMANDS.items()])


@click.command(cls=Commands, context_settings=common.CONTEXT)
@click.version_option(package_name="ear-recall", prog_name="recall")
def recall() -> None:
    """Follow-up and recall for an ear-care practice.

    Applies the protocol that the practice has adopted; it does not diagnose.
    Lists are data on standard output; messages go to standard error.
    """


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit status."""
    common.plain_streams()
    try:
        # Not through click's own `main`: it would answer interrupts and cut pipes by itself.
        words = sys.argv[1:] if argv is None else argv
        _as_text(words)
        with recall.make_context("recall", list(words)) as context:
            status = recall.invoke(context)
        sys.stdout.flush()
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        return _say(_sentence(error), USAGE)
    except (click.Abort, KeyboardInterrupt):
        return _say("Stopped. What was not finished was not changed.", STOPPED)
    except BrokenPipeError:
        return _cut_off()
    except RecallError as error:
        return _say(str(error), error.exit_code)
    except Exception as error:
        return _unexpected(error)
    return status if isinstance(status, int) else OK


def _as_text(words: Sequence[str]) -> None:
    """Refuse words with bytes that are no text; the system hands these over as half characters."""
    for place, word in enumerate(words, 1):
        if any("\ud800" <= c <= "\udfff" for c in word):
            raise InputError(
                f"Word {place} of what was typed holds bytes that are no text in UTF-8.",
                hint="Type it again, or give the file a name of plain letters.",
            )


def _say(sentence: str, status: int) -> int:
    click.echo(sentence, err=True)
    return status


def _sentence(error: click.ClickException) -> str:
    """Return a usage error in one line, with where to read on."""
    said = " ".join(error.format_message().split()).rstrip(".")
    context = getattr(error, "ctx", None)
    where = context.command_path if context else "recall"
    return f"{said}{'' if said.endswith('?') else '.'} See {where} --help."


def _cut_off() -> int:
    """Whoever read our output went away: say nothing more, not even at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return CUT_OFF


def _unexpected(error: Exception) -> int:
    """Write the whole story into the log and say where it is."""
    told = "".join(traceback.format_exception(error))
    for folder in (common.log_folder(), Path(tempfile.gettempdir())):
        path = folder / "recall-errors.log"
        try:
            _append(path, told)
        except OSError:
            continue
        return _say(
            f"Something unexpected went wrong ({type(error).__name__}). Nothing more was "
            f"changed; the details are in {path}: they may hold names, keep them private.",
            UNEXPECTED,
        )
    return _say(told, UNEXPECTED)


def _append(path: Path, told: str) -> None:
    """Add to a log that only its owner may read."""
    flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT
    with os.fdopen(os.open(path, flags, 0o600), "a", encoding="utf-8") as log:
        log.write(f"{Clock().now().isoformat(timespec='seconds')} {_command()}\n{told}\n")


def _command() -> Any:
    """Return the name of the command alone: its arguments may name people."""
    return next((word for word in sys.argv[1:] if word in COMMANDS), "recall")
