"""Trying all wording out before it is used."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.errors import LetterError
from recall.letters import check as checking
from recall.letters import sample
from recall.letters.check import Problem, check_all
from recall.letters.compose import compose
from recall.letters.order import in_posting_order
from recall.letters.wording import Wording


def test_shipped_wording_is_without_a_problem() -> None:
    assert check_all() == []


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A practice's own folder; the pages are tried elsewhere."""
    monkeypatch.setattr(checking, "_on_paper", lambda composed: ())
    (tmp_path / "en").mkdir()
    return tmp_path


def test_misspelt_word_is_told_once_for_a_kind_and_size(own: Path) -> None:
    (own / "en" / "reminder.txt").write_text("Dear {{ salutaton }}", encoding="utf-8")
    problems = [p for p in check_all(own) if "en" in p.where]

    assert [p.where for p in problems] == ["reminder, en, standard", "reminder, en, large"]
    assert "'salutaton' is undefined" in problems[0].says


def test_word_used_only_in_a_rare_branch_is_found(own: Path) -> None:
    text = "{% if appointment %}fine{% else %}{{ nobody }}{% endif %}"
    (own / "en" / "reminder.txt").write_text(text, encoding="utf-8")

    assert any("'nobody' is undefined" in problem.says for problem in check_all(own))


@pytest.mark.parametrize("name", ["en/remainder.txt", "reminder.txt", "en/reminder.doc"])
def test_file_that_no_letter_uses_is_named(own: Path, name: str) -> None:
    (own / name).write_text("Dear you", encoding="utf-8")
    says = "No letter uses this file; correct its name, or remove it."

    assert Problem(name, says) in check_all(own)


@pytest.mark.parametrize("text", ["Only £40 this week", "Half price until May", "Special offer!"])
def test_wording_that_sells_is_named(own: Path, text: str) -> None:
    (own / "en" / "part_needs.txt").write_text(text, encoding="utf-8")

    assert [p.where for p in check_all(own)] == ["en/part_needs.txt"]


def test_too_long_and_unprintable_wording_is_found_on_the_pages(tmp_path: Path) -> None:
    (tmp_path / "en").mkdir()
    (tmp_path / "en" / "moved_check.txt").write_text("# A\n\n" + "B\n\n" * 90, encoding="utf-8")
    (tmp_path / "en" / "did_not_attend.txt").write_text("# 耳", encoding="utf-8")
    problems = check_all(tmp_path)

    assert (
        Problem("moved_check, en, standard", "It runs over its page; shorten the wording.")
        in problems
    )
    assert any("U+8033" in p.says and p.where.startswith("did_not_attend, en") for p in problems)


def test_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(LetterError, match="does not exist"):
        check_all(tmp_path / "nowhere")


def test_letters_for_one_home_lie_together_and_large_print_comes_last() -> None:
    homes = {
        "L-1": (("Ida", "7 Teasel Row", "WR9 9ZX"), "standard"),
        "L-2": (("Bo", "2 Larkspur Yard", "WR9 9ZZ"), "standard"),
        "L-3": (("Rowan", "7 TEASEL ROW", "WR9 9ZX"), "standard"),
        "L-4": (("Al", "1 Teasel Row", "WR9 9ZX"), "large"),
    }
    letters = [
        compose(
            sample.letter("reminder", sample.Sample(address, "Sam", ""), size=size, number=number),
            Wording(),
        )
        for number, (address, size) in homes.items()
    ]

    assert [x.number for x in in_posting_order(letters)] == ["L-1", "L-3", "L-2", "L-4"]
