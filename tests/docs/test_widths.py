"""No line that a command prints for people is wider than the manual promises."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click

from recall.cli.main import COMMANDS, recall
from recall.cli.shared.common import WIDTH
from tests.docs import pages, running
from tests.docs.conftest import SetUp

DEFAULT = shlex.quote(str(pages.ROOT / "recall" / "protocol" / "default.toml"))
WHAT_IF = f"recall protocol what-if {DEFAULT}"
LISTS = (
    *("recall queue --clinical", "recall overdue --clinical", "recall lost --clinical"),
    *("recall queue", "recall overdue", "recall lost", "recall referrals"),
    "recall matters list --all --by quill",
    *("recall referrals --all --clinical", "recall appointments --day 2027-03-15"),
    *("recall find okonkwo", "recall person story W1494", "recall person card W1494"),
    *("recall person looked W1494 --by quill", "recall retention --by quill"),
    *("recall failsafe --by quill", "recall confirm --list", "recall confirm", "recall staff list"),
    *("recall contact outcomes", "recall letters list", "recall letters preview 1"),
    *("recall jobs status", "recall protocol show", "recall protocol proposals"),
    *("recall protocol audit", WHAT_IF),
    *("recall protocol check", "recall protocol format", "recall report", "recall manual"),
    "recall report --month 2027-02-01 --charts",
    *("recall accounts --quarter 2027Q1", "recall accounts --quarter 2027Q1 --split kind"),
    "recall accounts --quarter 2027Q1 --show late",
    *("recall ahead", "recall ahead --split skill", "recall ahead --level --weeks 6"),
    *("recall ahead --portion 20", "recall ahead --portion 300 --weeks 20"),
    *("recall explain W1494", "recall refer draft 257 --by quill", "recall letters spoken 88"),
    *("recall changeover", "recall changeover --kinds"),
    "recall decide keep-trying 88 --why reason --show --by quill",
)

EMPTY = ("proposals", "confirm", "looked", "retention")
"""Lists that the invented practice leaves empty: all is confirmed, nobody signs in, and it is
not old enough for any record to have been kept long enough."""


def listing(command: click.Command, name: str) -> Iterator[str]:
    """Yield the commands below one that print a list, which other programs can have as data."""
    if any({"--csv", "--json"} & {*option.opts} for option in command.params):
        yield name
    if isinstance(command, click.Group):
        for word, held in command.commands.items():
            yield from listing(held, f"{name} {word}")


def test_every_list_is_measured() -> None:
    context = click.Context(recall)
    for word in COMMANDS:
        command = recall.get_command(context, word)
        assert command
        for name in listing(command, f"recall {word}"):
            assert any(line.startswith(name) for line in LISTS), name


def test_setting_up_prints_no_wider_line(set_up: SetUp) -> None:
    """Among them the plans that wait to be confirmed, which none do afterwards."""
    wide = [told for ran in set_up.ran for told in ran.out.splitlines() if len(told) > WIDTH]

    assert any("confirm --list" in ran.line and ran.out for ran in set_up.ran)
    assert wide == []


def test_no_line_is_wider_than_promised(practice: Path) -> None:
    (promised,) = re.findall(r"lines of at most (\d+) characters", pages.text_of("commands"))
    assert int(promised) == WIDTH
    numbers = running.numbers(practice)
    matter = "recall matters add message W1494 May he swim with the grommet in, and may he fly "
    matter += "to see his grandmother at Christmas? --by thackray"
    booked = "recall book 88 2027-03-15T10:30 --with quill --why-late reason --by thackray"
    for line in ("recall letters write --by thackray", booked, matter):
        assert running.run(running.renumbered(line, numbers), practice).status == 0
    for line in LISTS:
        ran = running.run(running.renumbered(line, numbers), practice)
        empty = any(word in line for word in EMPTY)
        assert ran.status == 0 and (ran.out or empty), ran
        assert [told for told in ran.out.splitlines() if len(told) > WIDTH] == [], line
