"""`recall refer`: what became known of a referral, its letter, its end."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import VERSION, act, opened
from recall.cli.shared.common import CONTEXT, DAY, FILE, acting, emit_lines, say
from recall.cli.shared.whose import referral_of, say_whose_row

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk

_referral = click.argument("referral", metavar="REFERRAL|REF")
_ear = click.option(
    "--ear", type=click.Choice(["right", "left"]), help="Of a line for both ears, only this one."
)


@click.group(context_settings=CONTEXT)
def refer() -> None:
    """A referral: sent, accepted, seen, result back; chased until it is known."""


@refer.command()
@_referral
@click.argument("whom")
@_ear
@VERSION
@acting
def spoke(referral: str, whom: str, ear: str | None, version: int | None, **given: Any) -> None:
    """Record whom you arranged it with by phone."""
    from recall.desk.referrals.progress import spoke_with

    act(given, lambda d: spoke_with(d, referral_of(d, referral), version, whom, ear))


@refer.command()
@_referral
@click.option("--route", type=click.Choice(["direct", "gp"]), default="direct", show_default=True)
@click.option("--whom", default="", help="To whom there.")
@_ear
@VERSION
@acting
def sent(
    referral: str, route: str, whom: str, ear: str | None, version: int | None, **given: Any
) -> None:
    """Record that it was sent, straight there or through the GP."""
    from recall.desk.referrals.progress import sent as was_sent

    act(given, lambda d: was_sent(d, referral_of(d, referral), version, route, whom, ear))


@refer.command()
@_referral
@click.option("--appointment", type=DAY, help="The day of their appointment there.")
@_ear
@VERSION
@acting
def accepted(
    referral: str,
    appointment: date | None,
    ear: str | None,
    version: int | None,
    **given: Any,
) -> None:
    """Record that it was accepted there."""
    from recall.desk.referrals.progress import accepted as was_accepted

    act(given, lambda d: was_accepted(d, referral_of(d, referral), version, appointment, ear))


def _plain(name: str, what: Any, says: str) -> None:
    """Add a subcommand that records one thing with an optional note."""

    @refer.command(name, help=says)
    @_referral
    @click.option("--note", default="")
    @_ear
    @VERSION
    @acting
    def command(
        referral: str, note: str, ear: str | None, version: int | None, **given: Any
    ) -> None:
        from recall.desk.referrals.progress import News, record

        news = News(what, note=note, ear=ear)
        act(given, lambda d: record(d, referral_of(d, referral), version, news))


def _with_reason(name: str, what: Any, says: str) -> None:
    """Add a subcommand that records one thing with its reason."""

    @refer.command(name, help=says)
    @_referral
    @click.option("--why", required=True, help="What they wrote or said, or why.")
    @_ear
    @VERSION
    @acting
    def command(
        referral: str, why: str, ear: str | None, version: int | None, **given: Any
    ) -> None:
        from recall.desk.referrals.progress import News, record

        news = News(what, reason=why, ear=ear)
        act(given, lambda d: record(d, referral_of(d, referral), version, news))


_plain("gp-acted", "gp_acted", "Record that the GP has referred.")
_plain("seen", "seen", "Record that they were seen there; the result is still awaited.")
_plain("chased", "chased", "Record that you asked, and there is no news.")
_plain("missed-there", "missed_there", "Record that they missed an appointment there.")
_with_reason("rejected", "rejected", "Record that it was rejected there.")
_with_reason("discharged", "discharged", "Record that they were discharged there unseen.")
_with_reason("not-there", "not_there", "Record that an emergency did not get there.")
_with_reason("carry-on", "decided", "Decide that it goes on: sent again, or elsewhere.")


@refer.command()
@_referral
@click.argument("text")
@_ear
@VERSION
@acting
def words(referral: str, text: str, ear: str | None, version: int | None, **given: Any) -> None:
    """Put your own words into its letter, in the place of those before."""
    from recall.desk.referrals.progress import News, record

    news = News("worded", reason=text, ear=ear)
    act(given, lambda d: record(d, referral_of(d, referral), version, news))


@refer.command()
@_referral
@click.argument("says")
@click.option("--they-follow", is_flag=True, help="They follow it: not referred again.")
@click.option("--until", type=DAY, help="The day on which that care ends.")
@_ear
@VERSION
@acting
def result(
    referral: str,
    says: str,
    they_follow: bool,
    until: date | None,
    ear: str | None,
    version: int | None,
    **given: Any,
) -> None:
    """Record that the result is back, and what it says in short."""
    from recall.desk.referrals.progress import Followed
    from recall.desk.referrals.progress import result as is_back

    def back(d: Desk) -> Next:
        number = referral_of(d, referral)
        follow = Followed(until) if they_follow else None
        return is_back(d, number, version, says, they_follow=follow, ear=ear)

    act(given, back)


@refer.command()
@_referral
@click.argument("reason")
@click.option("--why", required=True, help="In words.")
@_ear
@VERSION
@acting
def close(
    referral: str, reason: str, why: str, ear: str | None, version: int | None, **given: Any
) -> None:
    """Close a referral that is not known to be over, for a reason and by name."""
    from recall.desk.referrals.progress import close as closed

    word = reason.replace("-", "_")
    act(given, lambda d: closed(d, referral_of(d, referral), version, word, why, ear))


@refer.command()
@click.argument("ref")
@click.argument("to")
@click.option("--ear", "ears", multiple=True, required=True, help="right or left; twice for both.")
@click.option("--urgency", required=True, help="emergency, urgent, high, medium or low.")
@click.option("--why", required=True, help="In words.")
@acting
def ask(ref: str, to: str, ears: tuple[str, ...], urgency: str, why: str, **given: Any) -> None:
    """Ask for a referral between visits, for the person with this reference."""
    from recall.desk.plans.clinician_asks import ask_referral

    word = to.replace("-", "_")
    act(given, lambda d: ask_referral(d, ref, word, ears, urgency, why))


@refer.command()
@_referral
@click.option("--pdf", "pdf", type=FILE, help="Write a page there, to sign and give along.")
@acting
def draft(referral: str, pdf: Path | None, **given: Any) -> None:
    """Print the draft of the letter, for the practitioner to check and sign."""
    from recall.desk.referrals.progress import draft_letter, print_draft

    with opened(given) as desk:
        number = referral_of(desk, referral)
        say_whose_row(desk, "referral", number)
        if pdf is None:
            emit_lines(draft_letter(desk, number).text)
            return
        print_draft(desk, number, pdf)
    say(f"Written to {pdf}. It is not valid until it is checked and signed.")


@refer.command()
@_referral
@VERSION
@acting
def letter(referral: str, version: int | None, **given: Any) -> None:
    """Put the letter among those that wait for the post."""
    from recall.desk.referrals.progress import write_letter

    act(given, lambda d: write_letter(d, referral_of(d, referral), version))
