"""Where the invented finding must turn up; run in the copy of the program that has it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import Phase, find, settings
from msgspec.structs import replace

from recall.care.case import Case, Visit
from recall.care.case_schema import schema
from recall.care.casefile import check_ear, decode_case, encode
from recall.care.clear_ear import normal_values
from recall.care.ear import Ear
from recall.config import Import
from recall.desk.visits.cautions import cautions
from recall.desk.visits.findings_words import ear_lines, letter_ear_lines
from recall.desk.visits.questions import questions
from recall.errors import InputError
from recall.exchange.columns import template
from recall.exchange.visits_in import read_visits
from recall.protocol.checking import check
from recall.protocol.loading import Protocol, load
from recall.protocol.manual import manual
from recall.schedule.answering import documented_clear, missing
from recall.schedule.fold import fold
from tests.care import strategies
from tests.schedule import histories
from tests.schedule.test_properties import worse_values
from tui.ears.fields import BY_NAME
from tui.ears.form import VisitForm, cell_words, press, wrongs
from tui.ears.shortcut import clear

ON = date(2026, 9, 1)
BORN = date(1990, 5, 10)
JUST_FOUND = settings(max_examples=2000, phases=[Phase.generate])
"""To draw until one is found, and not to look for the plainest of its kind."""
AMBER = Ear(drum_seen="full", drum_colour="amber")


def seen(*ears: Ear) -> Case:
    return Case(born=BORN, visits=tuple(Visit(on=ON, right=ear) for ear in ears))


def test_the_case_file_has_it() -> None:
    assert decode_case(encode(seen(AMBER))) == seen(AMBER)
    assert "drum_colour" in schema()["$defs"]["Ear"]["properties"]
    with pytest.raises(InputError, match="amber"):
        decode_case(encode(seen(AMBER)).replace(b"amber", b"ambre"))


def test_the_visits_file_has_its_columns(tmp_path) -> None:
    assert {"right_drum_colour", "left_drum_colour"} <= set(template("visits").strip().split(","))
    path = tmp_path / "visits.csv"
    path.write_text("reference,person,on,left_drum_colour\nV1,P1,2026-09-01,Blue\n", "utf-8")

    (row,) = read_visits(path, Import(), today=ON)

    assert row.row is not None and row.row.visit.left == Ear(drum_colour="blue")


def test_the_form_has_its_row_its_digits_and_its_words() -> None:
    row = BY_NAME["drum_colour"]
    form = press(VisitForm(ON), "right", row, "1")
    assert form is not None and form.right == Ear(drum_colour="amber")
    assert (row.label, cell_words(form.right, row)) == ("Drum colour", "like amber")


def test_the_shortcut_writes_it_only_where_the_drum_was_seen() -> None:
    assert (
        clear(VisitForm(ON), normal_values("none", "drum"), None).form.right.drum_colour == "pearly"
    )
    assert clear(VisitForm(ON), normal_values("none", "part"), None).form.right.drum_colour is None
    assert (
        clear(VisitForm(ON), normal_values("none", "all"), seen(AMBER)).form.right.drum_colour
        is None
    )


def test_letters_and_cards_tell_it_in_its_words() -> None:
    assert "colour of the drum: amber" in ear_lines(AMBER)
    assert "colour of the drum: amber" in letter_ear_lines(AMBER)
    healthy = letter_ear_lines(Ear(drum_colour="pearly"))
    assert healthy == ("Normal or absent: colour of the drum: pearly",)


def test_it_contradicts_an_unseen_drum_and_what_its_entry_names() -> None:
    for ear in (
        Ear(drum_seen="none", drum_colour="pearly"),
        Ear(examined=False, drum_colour="amber"),
        Ear(drum_colour="blue", effusion="absent"),
    ):
        with pytest.raises(InputError):
            check_ear(ear, "right")
    form = VisitForm(ON, right=Ear(drum_seen="none", drum_colour="blue"))
    assert [w.says for w in wrongs(form)] == [
        "Right: “Drum colour” and “Drum seen” cannot both be so."
    ]


def test_a_rule_must_answer_it_and_one_does() -> None:
    protocol = load()
    assert not [remark for remark in check(protocol) if remark.is_fault]
    assert "`drum_colour`" in manual()
    rules = tuple(r for r in protocol.file.rule if r.id != "drum-colour-look")
    without = Protocol(replace(protocol.file, rule=rules), protocol.contact, "-", False)
    said = [remark.says for remark in check(without) if remark.kind == "unanswered"]
    assert [words.split(",")[0] for words in said] == [
        "No rule answers ear.drum_colour = amber",
        "No rule answers ear.drum_colour = blue",
    ]


def test_it_asks_for_a_look() -> None:
    (due,) = (d for d in fold(seen(AMBER), load(), ON).open if d.kind == "recheck")
    assert (due.rule, due.ear, due.track) == ("drum-colour-look", "right", "fluid")


def test_it_is_part_of_its_look_and_keeps_it_from_being_clear() -> None:
    both = Ear(drum_seen="full", effusion="absent", drum_colour="pearly")
    assert documented_clear("fluid", ("fluid",), both)
    assert not documented_clear("fluid", ("fluid",), replace(both, drum_colour="blue"))
    alone = Ear(drum_seen="full", drum_colour="pearly")
    assert missing(("fluid",), alone) == ()
    assert not documented_clear("fluid", ("fluid",), alone)


def test_it_is_asked_about_before_closing_and_told_before_treatment() -> None:
    left = Visit(on=ON + timedelta(days=9), left=AMBER)
    asked = questions(seen(AMBER), left, "")
    assert [q.about for q in asked] == ["side"]
    unseen = Visit(on=ON, right=Ear(drum_colour="pearly"))
    assert [q.about for q in questions(seen(), unseen, "an amber drum")] == ["seen"]
    blank = Visit(on=ON, right=Ear(drum_seen="full"))
    assert [q.about for q in questions(seen(), blank, "an amber drum")] == ["note"]
    assert [c.because for c in cautions(seen(AMBER), ON)] == ["coloured drum"]


def test_the_properties_draw_it_and_make_it_worse() -> None:
    assert worse_values("drum_colour", "pearly") == ["amber", "blue"]
    for ears in (histories.ears(), strategies.ears()):
        drawn = find(ears, lambda ear: ear.drum_colour == "blue", settings=JUST_FOUND)
        assert drawn.drum_colour == "blue"
