"""README.md fits a newcomer: the job, a picture, two commands, cautions, set-up, daily use."""

from __future__ import annotations

import pytest

from recall.desk.practice import demo
from recall.schedule.calendar import say_day
from tests.docs import pages

TEXT = pages.text_of("README")
LONGEST = 250


def test_it_stays_short() -> None:
    assert len(TEXT.splitlines()) <= LONGEST


def test_the_job_stands_in_one_paragraph_at_the_top() -> None:
    title, paragraph, _ = TEXT.split("\n\n", 2)

    assert title == "# ear-recall"
    for word in ("child", "look again", "letters", "referrals", "overdue", "lost"):
        assert word in paragraph


def test_a_picture_comes_before_any_heading() -> None:
    assert "<!-- made: picture -->" in TEXT.partition("\n## ")[0]


def test_the_picture_is_of_the_day_that_the_demo_shows() -> None:
    assert f"on {say_day(demo.ON, weekday=True)}" in TEXT.partition("\n## ")[0]
    assert "as they would be today" in pages.section(TEXT, "Try it")


def test_the_two_commands_are_there_with_how_to_remove_what_they_made() -> None:
    told = pages.section(TEXT, "Try it")

    assert "python3 demo/start.py" in told and "python3 tests/run.py" in told
    assert "delete the folder `demo/made/`" in told


def test_setting_up_in_short_leaves_steps_out_and_changes_none() -> None:
    """The manual's steps are run by the tests: these are some of them, in their order."""
    steps = iter(pages.commands(pages.text_of(pages.BRINGING)))

    assert all(line in steps for line in pages.commands(pages.section(TEXT, pages.SET_UP)))


@pytest.mark.parametrize("who", ["Reception", "Practitioner", "Manager"])
def test_each_of_the_three_has_a_page_of_daily_use(who: str) -> None:
    part = pages.section(TEXT, "Daily use").partition(f"\n### {who}\n")[2].partition("\n### ")[0]

    assert pages.commands(part)
    assert f"More: [{who.lower()}](recall/manual/{who.lower()}.md)" in part


def test_the_cautions_are_there() -> None:
    cautions = pages.section(TEXT, "Cautions")
    for words in (
        "does not diagnose",
        "signs it off",
        "Local pathways",
        "medical device",
        "Not recorded is never read as normal",
    ):
        assert words in cautions
