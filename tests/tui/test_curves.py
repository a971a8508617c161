"""The curve of those who came back, as it is drawn: all and none only where it is so."""

from __future__ import annotations

from datetime import date

from recall.accounts.rates import Returned, share_of
from recall.cycle.curve import COME, OTHERWISE, arrivals
from tui.manager.lists import more_returns
from tui.widgets.bars import curve_lines

WIDTH = 78


def returned(times: list[tuple[float, int]]) -> Returned:
    """People of one kind, each by the days that they were followed and how that ended."""
    gone = sum(how == OTHERWISE for _days, how in times)
    came = sum(how == COME for _days, how in times)
    return Returned(
        "retraction_watch", len(times), share_of(came, len(times)), gone, None, arrivals(times)
    )


def rows(found: Returned) -> list[str]:
    return [line.plain for line in curve_lines(found, WIDTH)]


def test_a_curve_reaches_the_top_only_where_everybody_came() -> None:
    """19 of 20 are 95 per cent: near the top, and not on it."""
    nearly = rows(returned([*[(7.0, COME)] * 19, (70.0, 0)]))
    everybody = rows(returned([(7.0, COME)] * 20))

    assert nearly[0].startswith("100% ┤") and "━" not in nearly[0]
    assert nearly[1].count("━") == everybody[0].count("━") == 52
    assert nearly[3].startswith(" 50% ┤")


def test_a_curve_of_nobody_lies_on_the_ground() -> None:
    found = rows(returned([(70.0, 0)] * 3))

    assert [row.count("━") for row in found] == [0, 0, 0, 0, 0, 52, 0]
    assert not any("░" in row for row in found)


def test_the_line_above_says_how_many_came_and_who_ended_otherwise() -> None:
    """Two of four came, one died: of all, 50 per cent (Aalen-Johansen by hand: 1/4 and 1/4)."""
    found = returned([(7.0, COME), (14.0, OTHERWISE), (21.0, COME), (21.0, 0)])
    head, *_ = (line.plain for line in more_returns(found, date(2026, 11, 30), WIDTH))

    assert head.startswith("retraction watch: 50% come after 3 wk (95% ░ ")
    assert head.endswith("; 1 ended otherwise")
    assert len(head) <= WIDTH
