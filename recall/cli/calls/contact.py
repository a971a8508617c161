"""`recall contact` and `recall undo`: reach people, say what came of it, take it back."""

from __future__ import annotations

from datetime import date, time
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import VERSION, WithDefault, act, opened, show
from recall.cli.shared.common import CONTEXT, DAY, acting, call_at, emit, gathered
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import emit_whose_row, follow_up_of, follow_ups_of
from recall.desk.contacts.entries import Attempt
from recall.errors import InputError
from recall.loop.outcomes import OUTCOMES

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk

_SOON = "thu 3, 15/9 10.30"
_HOUR = "recall.cli.calls.contact.hour"
_follow_up = click.argument("follow_up", metavar="FOLLOW_UP|REF")


def _outcome(text: str) -> str:
    return text.replace("-", "_")


def _hour(text: str | time) -> time:
    """Return the hour that an option names, read as the desk's own field reads it: 15:00, 3."""
    from recall.exchange.typed_days import read_hour

    try:
        return text if isinstance(text, time) else read_hour(text)
    except InputError as error:
        raise click.BadParameter(str(error)) from None


def _until(context: click.Context, _: click.Parameter, text: str | date | None) -> date | None:
    """Return the day agreed, and keep the hour that was typed with it for `--at`."""
    if text is None:
        return None
    day, at = call_at(text)
    context.meta[_HOUR] = at
    return day


def _at(context: click.Context, _: click.Parameter, at: time | None) -> time | None:
    """Return the hour agreed: that of `--at`, else the one that `--until` names."""
    return context.meta.get(_HOUR) if at is None else at


@click.group(cls=WithDefault, context_settings=CONTEXT)
def contact() -> None:
    """Log a contact: recall contact W1573 no-answer. Voicemail is name and number only."""


@contact.command()
@_follow_up
@gathered(
    "attempt",
    Attempt,
    click.argument("outcome", type=_outcome),
    click.option("--channel", default="phone", show_default=True, help="phone, letter, text, …"),
    click.option("--note", default="", help="In free words."),
    click.option("--language", default="", help="For which an interpreter is needed."),
    click.option(
        "--until", metavar="DAY", callback=_until, help=f"The day agreed, or day and hour: {_SOON}."
    ),
    click.option(
        *("--at", "until_at"),
        type=_hour,
        metavar="HOUR",
        callback=_at,
        help="The hour agreed with it: 15:00, 10.30; a bare 3 is in the afternoon.",
    ),
    click.option("--by-them", is_flag=True, help="They rang, wrote or walked in."),
    click.option("--spoke-with", default="", help="Whom, where it was not the person."),
    click.option(
        "--of",
        "which",
        type=NUMBER,
        multiple=True,
        help="The follow-up that it was said of, where it may end one; once for each.",
    ),
    click.option("--reach", "contact_point_id", type=NUMBER, help="The number or address used."),
)
@click.option(
    "--line", is_flag=True, help="Nobody answered: the same for all who are rung on the number."
)
@VERSION
@acting
def log(follow_up: str, attempt: Attempt, version: int | None, line: bool, **given: Any) -> None:
    """Log what came of an attempt; see `recall contact outcomes`."""
    from recall.desk.contacts.contacting import log_contact, log_for_line
    from recall.desk.worklists.call_lines import others_on_line

    def logged(d: Desk) -> Next:
        number = follow_up_of(d, follow_up)
        if not line:
            return log_contact(d, number, version, attempt)
        return log_for_line(d, number, version, others_on_line(d, number), attempt)[0]

    act(given, logged)


@contact.command()
def outcomes() -> None:
    """List what can come of a contact."""
    for outcome in OUTCOMES:
        emit(f"{outcome.id:<24} {outcome.words}\n")


@contact.command()
@_follow_up
@acting
def take(follow_up: str, **given: Any) -> None:
    """Take a follow-up in hand, so that nobody else rings; it runs out by itself."""
    from recall.desk.contacts.contacting import claim

    with opened(given) as desk:
        number = follow_up_of(desk, follow_up)
        until = claim(desk, number)
        emit_whose_row(desk, "follow-up", number)
    emit(f"In hand until {until.astimezone():%H:%M}.\n")


@contact.command("give-back")
@_follow_up
@acting
def give_back(follow_up: str, **given: Any) -> None:
    """Give a follow-up back."""
    from recall.desk.contacts.contacting import release

    with opened(given) as desk:
        number = follow_up_of(desk, follow_up)
        release(desk, number)
        emit_whose_row(desk, "follow-up", number)
    emit("Given back.\n")


@contact.command()
@_follow_up
@click.option("--until", type=DAY, required=True, help="Until when.")
@click.option("--why", required=True, help="The reason.")
@VERSION
@acting
def hold(follow_up: str, until: Any, why: str, version: int | None, **given: Any) -> None:
    """Hold contact back until a day, with the reason."""
    from recall.desk.contacts.contacting import hold as held

    act(given, lambda d: held(d, follow_up_of(d, follow_up), version, why, until))


@contact.command()
@_follow_up
@click.argument("text")
@acting
def note(follow_up: str, text: str, **given: Any) -> None:
    """Write something down about a follow-up."""
    from recall.desk.contacts.contacting import note as noted

    act(given, lambda d: noted(d, follow_up_of(d, follow_up), text))


@contact.command()
@click.argument("meant", metavar="FOLLOW_UP|REF...", nargs=-1, required=True)
@acting
def looked(meant: tuple[str, ...], **given: Any) -> None:
    """Record that a clinician looked at these before the letters."""
    from recall.desk.contacts.contacting import looked as looked_at

    with opened(given) as desk:
        for done in looked_at(desk, follow_ups_of(desk, meant)):
            show(done, desk)


@contact.command()
@_follow_up
@click.option("--how", required=True, help="With whom or by what it was checked.")
@click.option(
    "--still-there/--not-there",
    default=None,
    help="The address is right after all, or it is not; left out, it is not known.",
)
@VERSION
@acting
def address(
    follow_up: str, how: str, still_there: bool | None, version: int | None, **given: Any
) -> None:
    """Record that the address and numbers were checked."""
    from recall.desk.contacts.contacting import address_checked

    def checked(d: Desk) -> Next:
        number = follow_up_of(d, follow_up)
        return address_checked(d, number, version, how, still_there=still_there)

    act(given, checked)


@contact.command("gp-told")
@_follow_up
@click.option("--how", default="", help="By letter, by phone.")
@VERSION
@acting
def gp_told(follow_up: str, how: str, version: int | None, **given: Any) -> None:
    """Record that the GP or referrer was told, where the person agreed to that."""
    from recall.desk.contacts.contacting import gp_told as told

    act(given, lambda d: told(d, follow_up_of(d, follow_up), version, how))


@click.command()
@click.argument("action", type=NUMBER, required=False)
@acting
def undo(action: int | None, **given: Any) -> None:
    """Take back your own last action of today, or the one with this number."""
    from recall.desk.core.undo import undo as take_back

    act(given, lambda d: take_back(d, action))
