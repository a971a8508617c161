"""`recall protocol` and `recall explain`: read, check, compare, adopt, sign; and why a plan."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import (
    FILE,
    acting,
    agreed,
    as_data,
    desk,
    emit,
    emit_data,
    emit_lines,
    in_config,
    read_bytes,
    say,
    settings,
)
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import emit_whose
from recall.clock import Clock
from recall.config import Files
from recall.errors import InputError, RecallError
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import Protocol, load

SHOWN = 40
"""How many moves are listed before the rest is counted."""


@click.group()
def protocol() -> None:
    """The rules: read them, check them, change them, sign them off."""


def _given(path: Path | None, config: Path | None) -> Protocol:
    """Return the file named, or the practice's own, or the one that comes with the program."""
    if path is not None:
        return load(path)
    try:
        files = settings(config).files
    except RecallError:
        if config is not None:
            raise
        return load()
    return load(files.protocol, files.sign_off)


def _not_adopted(found: Protocol, config: Path | None) -> str:
    """Say that this is not what the practice's register has adopted, where there is one."""
    from recall.desk.core.session import adopted_digest, differs

    try:
        adopted = adopted_digest(settings(config))
    except RecallError:
        return ""
    return differs(found.digest, adopted)


@protocol.command()
@click.argument("file", type=FILE, required=False)
@as_data
@in_config
def show(file: Path | None, form: str | None, config: Path | None) -> None:
    """Print every rule: when, what it asks, why, source."""
    from recall.protocol.showing import rows, text

    found = _given(file, config)
    if said := _not_adopted(found, config):
        say(f"Note: {said}")
    if form is None:
        emit("\n".join(text(found)) + "\n")
        return
    from recall.protocol.showing import RuleRow

    emit_data(form, RuleRow, rows(found))


@protocol.command()
@click.argument("file", type=FILE, required=False)
@in_config
def check(file: Path | None, config: Path | None) -> int:
    """Say what can be proved of the rules; status 2 where something should be mended."""
    from recall.protocol.checking import check as find

    found = _given(file, config)
    remarks = find(found)
    for remark in remarks:
        name = f"{remark.rule}: " if remark.rule else ""
        emit_lines(f"{remark.kind}: {name}{remark.says}")
    faults = sum(r.is_fault for r in remarks)
    say(f"{len(found.rules)} rules: {faults} to mend, {len(remarks) - faults} to know.")
    return InputError.exit_code if faults else 0


@protocol.command(name="format")
def format_() -> None:
    """Print how a protocol file is written, for a clinical lead who does not program."""
    from recall.manual.plain import plain
    from recall.protocol.manual import manual

    emit_lines("\n".join(plain(manual())))


@protocol.command()
@click.argument("old", type=FILE)
@click.argument("new", type=FILE)
@acting
def compare(old: Path, new: Path, **given: Any) -> None:
    """Say what changed, and what it would move in the register; nothing is changed."""
    from recall.cli.shared.progress import Progress
    from recall.desk.plans.adoption import compare_over_register

    ticks = Progress("Comparing")
    with opened(given, reading=True) as desk:
        found = compare_over_register(desk, load(old), load(new), ticks)
    ticks.end()
    for sentence in found.sentences or ("The two say the same.",):
        emit_lines(sentence)
    emit("\n" + "\n".join(found.summary()) + "\n")
    for move in sorted(found.moves, key=lambda m: m.days)[:SHOWN]:
        was, would = move.latest or "not asked", move.window[2] if move.window else "not asked"
        emit(
            f"  {move.reference:<10} {move.track.replace('_', ' '):<12} {move.ear:<6}"
            f" {was!s:<11} -> {would!s:<11} {move.rule}\n"
        )
    if len(found.moves) > SHOWN:
        say(f"… and {len(found.moves) - SHOWN} more.")


@protocol.command()
@click.argument("new", type=FILE, required=False)
@click.option("--yes", is_flag=True, help="Do not ask.")
@acting
def adopt(new: Path | None, yes: bool, **given: Any) -> None:
    """Use a changed protocol from today on; dates already set stay as they are.

    What would come earlier becomes a list for a named clinician.
    """
    from recall.cli.shared.progress import Progress
    from recall.desk.core.rights import Right
    from recall.desk.plans.adoption import adopt as take_up
    from recall.desk.plans.loosening import loosened

    with opened(given) as desk:
        desk.require(Right.ADOPT)
        files = desk.config.files
        wanted = load(new or files.protocol, files.sign_off)
        if not wanted.signed_off:
            say("This protocol is not signed off yet: see recall protocol sign.")
        if not agreed(f"Adopt {wanted.name} {wanted.version} from {desk.today}?", yes):
            return
        ticks = Progress("Comparing")
        waiting = take_up(desk, wanted, ticks)
        ticks.end()
        _keep_sign_off(new, wanted.digest, files)
        rules = loosened(desk)
    say(f"Adopted. {waiting} dates could come earlier: see recall protocol proposals.")
    lines = sum(each.gone + each.later for each in rules)
    if lines:
        say(f"{lines} lines are asked later now, or no more: see recall protocol loosened.")


def _keep_sign_off(new: Path | None, digest: str, files: Files) -> None:
    """Let the sign-off of rules that were adopted be found wherever their file lies."""
    from recall.desk.core.adopted_rules import sign_offs
    from recall.protocol.signing import beside, sign_off_of, write_sign_off

    signed = sign_off_of(digest, beside(new))
    if signed is not None and sign_off_of(digest, *sign_offs(files)) is None:
        write_sign_off(files.sign_off, signed)


@protocol.command()
@click.argument("file", type=FILE, required=False)
@click.option("--to", type=FILE, help="Where the sign-off is written.")
@acting
def sign(file: Path | None, to: Path | None, **given: Any) -> None:
    """Sign this exact content off; any later change to it shows as unsigned.

    It is signed by a clinical lead.
    """
    from recall.desk.core.rights import Right
    from recall.protocol.signing import SignOff, beside, write_sign_off

    found = _given(file, given["config"])
    with opened(given) as desk:
        desk.require(Right.ADOPT)
        name, day, files = desk.by.name, desk.today, desk.config.files
    where = to or beside(file) or files.sign_off
    write_sign_off(where, SignOff(found.digest, name, day, found.name, found.version))
    say(f"{found.name} {found.version} is signed off by {name} on {day}: {where}.")


@protocol.command()
@as_data
@acting
def proposals(form: str | None, **given: Any) -> None:
    """List the dates that an adopted protocol could bring forward."""
    from recall.desk.plans.earlier_dates import ProposalRow
    from recall.desk.plans.earlier_dates import proposals as waiting

    with opened(given, reading=True) as desk:
        found = waiting(desk)
    if form is not None:
        emit_data(form, ProposalRow, found)
        return
    for row in found:
        emit(
            f"{row.number:>5}  {row.reference:<10} {row.track:<12} {row.ear:<6}"
            f" {row.latest} -> {row.would_be}  {row.rule}\n"
        )
    say(f"{len(found)} wait for a clinician's word.")


@protocol.command(name="answer")
@click.argument("number", type=NUMBER)
@click.option("--forward/--leave", required=True, help="Bring the date forward, or leave it.")
@click.option("--why", default="", help="The reason.")
@acting
def answer_(number: int, forward: bool, why: str, **given: Any) -> None:
    """Answer one of the proposals."""
    from recall.desk.plans.earlier_dates import answer

    with opened(given) as desk:
        answer(desk, number, forward=forward, why=why)
    say("Brought forward." if forward else "Left as it is.")


@protocol.command(name="loosened")
@acting
def loosened_(**given: Any) -> None:
    """List, by rule, what an adopted protocol no longer asks, or asks later."""
    from recall.desk.plans.loosening import loosened

    with opened(given, reading=True) as desk:
        rules = loosened(desk)
    for each in rules:
        emit(
            f"{each.gone:>5} no more, {each.later:>5} later  {each.rule}"
            f"  (such as {', '.join(each.references)})\n"
        )
    say(f"{len(rules)} rules wait for the clinical lead.")


@protocol.command()
@click.argument("rule")
@click.option("--take/--leave", required=True, help="As the new rules have it, or as it stands.")
@click.option("--why", default="", help="The reason.")
@acting
def loosen(rule: str, take: bool, why: str, **given: Any) -> None:
    """Answer all waiting lines of a RULE at once."""
    from recall.desk.plans.loosening import answer_loosened

    with opened(given) as desk:
        lines = answer_loosened(desk, rule, take=take, why=why)
    say(f"{lines} lines: {'as the new rules have them' if take else 'left as they stand'}.")


@click.command()
@click.argument("case", metavar="CASE.json|REFERENCE")
@click.option("--protocol", "file", type=FILE, help="A protocol file in the place of yours.")
@acting
def explain(
    case: str,
    file: Path | None,
    config: Path | None,
    by: str | None,
    on: date | None,
) -> None:
    """Say why a plan is what it is: what matched, what nearly did, how the dates came out.

    Takes a case file, or the reference of somebody in the register. Every visit of a case file is
    judged by the newest rules, as by recall plan.
    """
    from recall.care.casefile import decode_case
    from recall.schedule.explain import explain as tell

    if case == "-" or case.lower().endswith(".json") or Path(case).is_file():
        rules = load(file) if file else in_hindsight(_given(None, config))
        found = tell(decode_case(read_bytes(case)), rules, on or Clock().today())
    else:
        from recall.desk.plans.explaining import explain_person

        with desk(config, by, on, reading=True) as opened:
            found = explain_person(opened, case, load(file) if file else None)
            emit_whose(opened, case)
    emit_lines("\n".join(found.sentences()))
