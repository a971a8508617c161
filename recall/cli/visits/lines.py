"""`recall line`: the lines of a plan, and what somebody who may decide makes of one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any, get_args

import click

from recall.care.case import URGENCIES, To, Urgency
from recall.cli.shared.acts import WithDefault, act, opened
from recall.cli.shared.common import DAY, acting, emit, emit_lines, gathered
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import emit_whose
from recall.schedule.plan import BECAUSE_WORDS, Because
from recall.schedule.plan_lines import Judgement

if TYPE_CHECKING:
    from recall.schedule.plan_lines import Line

DAYS = ("earliest", "target", "latest")
REASON = click.Choice([word.replace("_", "-") for word in BECAUSE_WORDS])
_why = click.option("--why", default="", help="More words; an emergency needs what explains it.")
_because = click.option(
    "--because", type=REASON, required=True, help="The reason, from the short list."
)


def read_because(word: str) -> Because:
    """Return a reason of the list, as it is kept."""
    return next(each for each in BECAUSE_WORDS if each == word.replace("-", "_"))


@click.group(cls=WithDefault)
def line() -> None:
    """The lines of the plan of the person REF; what somebody makes of one, with a reason."""


@line.command("list")
@click.argument("person", metavar="REF")
@acting
def list_(person: str, **given: Any) -> None:
    """Show the lines by name, the most pressing first."""
    from recall.desk.plans.judging import standing_lines

    with opened(given, reading=True) as desk:
        lines = standing_lines(desk, person).lines
        emit_whose(desk, person)
    emit_lines("".join(f"{say_line(each)}\n" for each in lines) or "Nothing is open.\n")


def say_line(each: Line) -> str:
    """Return a line with its name in front."""
    return f"{each.name}  {each.urgency}, by {each.latest}: {each.says}"


def _strike(
    because: str, why: str, until: date | None, of: To | None, considered: bool
) -> Judgement:
    return Judgement("strike", read_because(because), why, until, of=of, considered=considered)


def _move(because: str, why: str, earliest: date, target: date, latest: date) -> Judgement:
    return Judgement("move", read_because(because), why, window=(earliest, target, latest))


def _weigh(because: str, why: str, urgency: Urgency) -> Judgement:
    return Judgement("weigh", read_because(because), why, urgency=urgency)


def _judges(name: str) -> Callable[[Any], Any]:
    """Return what makes a command out of one that takes a person, a line and a judgement."""

    def give(command: Any) -> Any:
        options: list[Callable[[Any], Any]] = [acting, *_OF[name], _line_name, _person]
        for option in options:
            command = option(command)
        return line.command(name)(command)

    return give


_person = click.argument("person", metavar="REF")
_line_name = click.argument("name", metavar="LINE")
_OF: dict[str, tuple[Callable[[Any], Any], ...]] = {
    "strike": (
        gathered(
            "made",
            _strike,
            _because,
            _why,
            click.option("--until", type=DAY, help="The day from which it stands again."),
            click.option("--of", type=click.Choice(get_args(To)), help="Known elsewhere: to whom."),
            click.option(
                "--considered", is_flag=True, help="The prompt about those brought was considered."
            ),
        ),
    ),
    "move": (
        gathered(
            "made",
            _move,
            _because,
            _why,
            *(click.option(f"--{n}", type=DAY, required=True) for n in DAYS),
        ),
    ),
    "urgency": (
        gathered(
            "made",
            _weigh,
            click.argument("urgency", type=click.Choice(URGENCIES)),
            _because,
            _why,
        ),
    ),
}


@_judges("strike")
def strike(person: str, name: str, made: Judgement, **given: Any) -> None:
    """Strike out a LINE, until that ear is worse or shows something new."""
    _judge(person, name, made, given)


@_judges("move")
def move(person: str, name: str, made: Judgement, **given: Any) -> None:
    """Move a LINE to other days."""
    _judge(person, name, made, given)


@_judges("urgency")
def urgency(person: str, name: str, made: Judgement, **given: Any) -> None:
    """Make a LINE more or less urgent; lowered, it stays so until that ear is worse."""
    _judge(person, name, made, given)


@line.command()
@click.argument("number", type=NUMBER)
@click.option("--why", required=True, help="Why it is taken back.")
@acting
def back(number: int, why: str, **given: Any) -> None:
    """Take back what was made of a line, by its NUMBER on the person's card."""
    from recall.desk.plans.judging import take_back

    act(given, lambda desk: take_back(desk, number, why))


@line.command()
@acting
def struck(**given: Any) -> None:
    """How often each rule was struck out, and why."""
    from recall.desk.plans.judging import struck_by_rule

    with opened(given, reading=True) as desk:
        rules = struck_by_rule(desk)
    if not rules:
        emit("No rule was struck out.\n")
    for each in rules:
        why = ", ".join(f"{BECAUSE_WORDS[word]} {times}" for word, times in each.because)
        emit(f"{each.times:>4}  {each.rule}: {why}\n")


@line.command()
@acting
def milder(**given: Any) -> None:
    """Corrections that dropped or lowered what pressed, until a second person has seen them."""
    from recall.desk.visits.milder import milder_lines

    with opened(given, reading=True) as desk:
        waiting = milder_lines(desk)
    if not waiting:
        emit("Nothing waits.\n")
    for each in waiting:
        emit(f"[{each.number}] {each.reference}, {each.on}, {each.by}: {each.words}. {each.why}\n")


@line.command()
@click.argument("number", type=NUMBER)
@acting
def seen(number: int, **given: Any) -> None:
    """Say, as the second person, that you saw what a correction made milder, by its NUMBER."""
    from recall.desk.visits.milder import see_milder

    act(given, lambda desk: see_milder(desk, number))


def _judge(person: str, name: str, made: Judgement, given: dict[str, Any]) -> None:
    from recall.desk.plans.judging import judge_line

    act(given, lambda desk: judge_line(desk, person, name, made))
