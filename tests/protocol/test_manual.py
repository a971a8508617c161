"""The page on how a protocol is written: its parts, and a line for every kind of word."""

from __future__ import annotations

from recall.protocol.manual import manual

PAGE = manual().splitlines()


def test_the_page_has_its_parts_in_order() -> None:
    assert [line for line in PAGE if line.startswith("#") and "[[" not in line] == [
        "# How a protocol is written",
        "## What a rule can ask",
        "## Lists",
        "## Words a condition may use",
    ]


def test_each_thing_a_rule_can_ask_is_said() -> None:
    for kind in ("recheck", "refer", "advise"):
        assert [line for line in PAGE if line.startswith(f'- `kind = "{kind}"`: ')]


def test_every_kind_of_word_has_its_line() -> None:
    for line in (
        "| `tensa_grade` | scale | 1, 2, 3, 4: `or worse` |",
        '| `hearing_loss` | scale | dB: `"25 dB or worse"` |',
        "| `trace_of_fluid` | flag | `true`: a trace read as flat fluid |",
        "| `person.age` | range | age in whole years on the day of the visit |",
        "| `course.hearing_tested` | range | time since the last hearing test |",
    ):
        assert line in PAGE
    for word in ("`person.risk`", "`report.said`, `report.also`"):
        assert [line for line in PAGE if line.startswith(f"| {word} | flag | any of ")]


def part(title: str) -> list[str]:
    """Return the lines below a heading, without the empty ones around them."""
    start = PAGE.index(title) + 1
    rest = [n for n, line in enumerate(PAGE) if n > start and line.startswith("## ")]
    return "\n".join(PAGE[start : rest[0] if rest else None]).strip("\n").splitlines()


def test_what_a_rule_can_ask_is_told_in_full() -> None:
    told = part("## What a rule can ask")

    assert told[:10] == [
        '- `kind = "recheck"`: a look in a window, counted `from` an anchor (the visit where',
        "  left out). `never` is the window where the anchor has not happened. `needs` says",
        "  what must have been looked at to answer it.",
        '- `kind = "refer"`: `to` a service; `sent`, `accepted`, `seen`, `result` where the',
        "  urgency's own stages do not serve.",
        '- `kind = "advise"`: tell the person; no date. `alone = true`: only where nothing',
        "  else of its track is open for the ear, and nothing urgent. `in_emergency = true`: only",
        "  beside an emergency for which that ear is seen into today.",
        "",
        'Lengths of time: `"10 days"`, `"6 weeks"`, `"3 months"`, `"1 working day"`.',
    ]
    assert told[-1].startswith("Anchors: `visit`, `fluid_first_documented`, ")


def test_every_list_of_a_rule_is_there() -> None:
    lists = part("## Lists")

    assert [line.partition(":")[0] for line in lists] == [
        "- Tracks",
        "- Categories",
        "- Referred to",
        "- To do at a look",
        "- Known by",
        "- Urgencies, most pressing first",
    ]
    assert lists[-1] == (
        "- Urgencies, most pressing first: `emergency`, `urgent`, `high`, `medium`, `low`."
    )


def test_each_word_of_a_condition_is_told_once_with_what_makes_it() -> None:
    words = part("## Words a condition may use")

    assert words[:4] == [
        "`when.ear.…` is the ear itself, `when.other.…` the other ear at the same visit.",
        "",
        "| word | kind | values |",
        "|---|---|---|",
    ]
    names = [line.split(" | ")[0] for line in words[4:]]
    assert len(names) == len(set(names))
    for line in (
        "| `keratin` | flag | `true` |",
        "| `hearing_back` | flag | `true`: hearing_after better |",
        "| `wax_found` | scale | some, partial, occluding: `or worse` |",
        "| `drum_changed` | flag | `true`: any of ",
        "| `acute_infection` | flag | `true`: any of bulging true, bullae true |",
        "| `report.WORD_for`, `_for_at_least`, `_onset` | range | time since; days to come on |",
    ):
        assert [w for w in words if w.startswith(line)], line
