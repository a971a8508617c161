"""The manual in a terminal: its list of pages, and each as plain lines."""

from __future__ import annotations

import sys

import click
import pytest

from recall import manual
from recall.cli.main import main
from recall.errors import InputError
from recall.manual.plain import is_rule, plain

WIDTH = 80


def printed(capfd: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["manual", *words]) == 0
    return capfd.readouterr().out


def test_without_a_page_it_says_which_there_are_and_for_whom(capfd) -> None:
    told = printed(capfd)

    assert [line.split()[0] for line in told.splitlines() if line[0] != " "] == list(manual.PAGES)
    assert "For whoever answers the phone" in told


@pytest.mark.parametrize("page", manual.PAGES)
def test_a_page_is_plain_lines_that_fit(page: str, capfd) -> None:
    told = printed(capfd, page)

    assert told.startswith(f"{manual.title(page)}\n{'=' * len(manual.title(page))}\n")
    assert [line for line in told.splitlines() if len(line) > WIDTH] == []
    assert "<!--" not in told and "](" not in told and "**" not in told and "```" not in told


@pytest.mark.parametrize("page", manual.PAGES)
def test_no_word_of_a_page_is_lost(page: str) -> None:
    """Every word of the sentences stands in the lines too, in their order."""
    shown = iter(" ".join(plain(manual.page(page), 10_000)).split())
    marks = str.maketrans("", "", "`*|[]")
    lines = manual.page(page).splitlines()
    prose = [line for line in lines if line[:1].isalpha() and "<!--" not in line]

    for line in prose:
        for word in line.split():
            plainly = word.translate(marks)
            if plainly and "](" not in word:
                assert plainly in (each.translate(marks) for each in shown), line


def test_a_page_that_is_not_there_is_told_with_those_that_are(capfd) -> None:
    assert main(["manual", "nonsense"]) == 2

    told = capfd.readouterr()
    assert told.out == ""
    assert "no page 'nonsense'" in told.err
    assert all(page in told.err for page in manual.PAGES)


def test_on_a_terminal_headings_are_loud_and_not_underlined(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    assert main(["manual", "jobs"]) == 0

    told = capsys.readouterr().out
    assert click.style("Jobs", bold=True) in told
    assert not any(is_rule(line) for line in told.splitlines())


def test_a_page_by_a_path_is_refused() -> None:
    with pytest.raises(InputError):
        manual.page("../errors")


def test_marks_within_code_stay() -> None:
    assert plain("Press `*` for *all* of **them**, see [keys](keys.md).") == [
        "Press * for all of them, see keys."
    ]


def test_a_link_names_the_page_where_its_words_do_not() -> None:
    assert plain("See [all keys](keys.md#calls) and [a file](../../x.toml).") == [
        "See all keys (recall manual keys) and a file."
    ]


def test_two_columns_stand_side_by_side_and_a_long_name_above() -> None:
    table = "| key | what |\n| --- | --- |\n| a | one \\| two |\n| " + "b" * 30 + " | three |"

    assert plain(table) == [f"{'a':<26}one | two", "b" * 30, "   three"]


def test_more_columns_become_parts_with_their_headings() -> None:
    table = (
        "| column | needed | holds |\n|---|---|---|\n| `born` | yes | the day |\n| `sex` |  | f |"
    )

    assert plain(table) == [
        *("born", "   needed: yes", "   holds: the day"),
        *("sex", "   holds: f"),
    ]


def test_a_picture_is_left_out_with_what_announces_it() -> None:
    text = "First.\n\nThis is it:\n\n```text\npicture\n```\n\nLast."

    assert plain(text, pictures=False) == ["First.", "", "Last."]
    assert plain(text)[-3:] == ["picture", "", "Last."]


def test_a_point_goes_on_below_where_its_source_does() -> None:
    assert plain("1. One\n   and more\n2. Two", 10) == ["1. One and", "   more", "2. Two"]
