"""What each key of the visit form writes, and what its shortcut may never write."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.case import Case, Visit
from recall.care.casefile import check_visit
from recall.care.clear_ear import normal_values
from recall.care.ear import EAR_FIELDS, SIDES, Ear, recorded
from recall.errors import InputError
from recall.schedule.answering import LOOKS
from tui.ears.fields import BY_NAME, FIELDS, USUAL, words_of
from tui.ears.form import (
    VisitForm,
    cell_words,
    copy_across,
    empty,
    form_of,
    last_ear,
    press,
    write,
    wrongs,
)
from tui.ears.shortcut import SEEN, clear, pressed
from tui.ears.text import (
    read_levels,
    read_onset,
    read_trace,
    read_when,
    show_levels,
    show_trace,
    show_when,
)
from tui.screens.visit_typing import who_line
from tui.visits.sheets import places_by_letters

ON = date(2026, 9, 1)
BORN = date(1950, 1, 1)
FORM = VisitForm(ON, "clara")


def seen_before(**findings: object) -> Case:
    return Case(born=BORN, visits=(Visit(on=date(2026, 3, 1), right=Ear(**findings)),))


def test_every_finding_of_the_case_file_is_on_the_form_once() -> None:
    covered = [name for row in FIELDS for name in row.covers]

    assert sorted(covered) == sorted(EAR_FIELDS)
    assert len(FIELDS[:USUAL]) == USUAL


def test_every_answer_writes_what_the_case_file_takes() -> None:
    for row in FIELDS:
        for answer in row.answers:
            written = {n: v for n, v in answer.writes.items() if v is not None}
            assert recorded(msgspec.convert(written, Ear)) == written


def test_every_word_of_a_finding_can_be_typed() -> None:
    """All values that the JSON Schema lists for an ear are answers of the form."""
    _, parts = msgspec.json.schema_components([Ear])
    properties = parts["Ear"]["properties"]
    for row in FIELDS:
        if row.kind != "words" or row.name == "examined":
            continue
        options = properties[row.name]["anyOf"]
        listed = {value for option in options for value in option.get("enum") or () if value}
        assert listed <= {answer.writes[row.name] for answer in row.answers}


def test_a_digit_writes_one_answer_and_another_takes_its_place() -> None:
    once = press(FORM, "right", BY_NAME["effusion"], "2")
    assert once is not None
    twice = press(once, "right", BY_NAME["effusion"], "0")
    assert twice is not None

    assert recorded(once.right) == {"effusion": "present"}
    assert recorded(twice.right) == {"effusion": "absent"}
    assert recorded(twice.left) == {}
    assert press(FORM, "right", BY_NAME["effusion"], "7") is None


def test_a_cell_can_be_emptied_and_copied_to_the_other_ear() -> None:
    refused = press(FORM, "left", BY_NAME["examined"], "1")
    assert refused is not None

    both = copy_across(refused, "left", BY_NAME["examined"])

    assert recorded(both.right) == {"examined": False, "not_examined": "refused"}
    assert recorded(empty(both, "left", BY_NAME["examined"]).left) == {}


@pytest.mark.parametrize("seen", [word for word, _ in SEEN])
@pytest.mark.parametrize("found", ["none", "some", "partial", "occluding"])
def test_the_shortcut_writes_a_visit_without_contradiction(found: str, seen: str) -> None:
    made = clear(FORM, normal_values(found, seen), None)

    check_visit(made.form.visit, BORN)
    assert made.left_open == ()
    assert wrongs(made.form) == ()


def test_the_shortcut_writes_every_normal_value_of_what_was_seen() -> None:
    ear = clear(FORM, normal_values("occluding", "all"), None).form.right

    assert (ear.wax_found, ear.wax_left, ear.clearance) == ("occluding", "none", "cleared")
    assert (ear.effusion, ear.tensa_grade, ear.attic_grade) == ("absent", 0, 0)
    assert (ear.perforation, ear.canal_skin, ear.discharge) == ("none", "normal", "none")
    looked = {name for name, look in LOOKS.items() if look(ear)}
    assert looked == set(LOOKS) - {"hearing", "trace", "cavity"}


def test_what_was_not_seen_stays_not_recorded() -> None:
    drum = clear(FORM, normal_values("occluding", "drum"), None).form.right
    part = clear(FORM, normal_values("occluding", "part"), None).form.right
    none = clear(FORM, normal_values("occluding", "none"), None).form.right

    assert (drum.effusion, drum.attic_seen, drum.attic_grade, drum.keratin) == (
        "absent",
        False,
        None,
        None,
    )
    assert (part.drum_seen, part.effusion, part.tensa_grade) == ("part", None, None)
    assert (none.drum_seen, none.effusion, none.attic_seen) == ("none", None, None)


@pytest.mark.parametrize(
    ("finding", "value"),
    [("effusion", "present"), ("perforation", "central"), ("keratin", True), ("tensa_grade", 2)],
)
def test_what_was_not_normal_last_time_is_left_to_be_looked_at(finding: str, value: object) -> None:
    made = clear(FORM, normal_values("some", "all"), seen_before(**{finding: value}))

    assert getattr(made.form.right, finding) is None
    assert getattr(made.form.left, finding) is not None
    assert made.left_open == (("right", finding),)


def test_the_shortcut_writes_over_nothing_that_was_typed() -> None:
    typed = press(FORM, "left", BY_NAME["effusion"], "1")
    assert typed is not None

    made = clear(typed, normal_values("some", "all"), None)

    assert made.form.left.effusion == "suspected"
    assert made.form.right.effusion == "absent"


def test_the_shortcut_answered_once_more_takes_the_place_of_what_it_wrote() -> None:
    first = clear(FORM, normal_values("occluding", "all", "same"), None)
    second = clear(first.form, normal_values("some", "part"), None)

    assert second.form == clear(FORM, normal_values("some", "part"), None).form
    assert (first.is_anew, second.is_anew, second.kept) == (False, True, ())


def test_the_shortcut_answered_once_more_keeps_and_names_what_was_typed_between() -> None:
    first = clear(FORM, normal_values("occluding", "all", "same"), None).form
    typed = pressed(first, "left", BY_NAME["effusion"], "2")
    assert typed is not None

    made = clear(typed, normal_values("some", "all"), None)

    assert (made.form.left.effusion, made.form.left.wax_found) == ("present", "some")
    assert made.form.left.hearing_after is None
    assert made.kept == (("left", "effusion"),)


def test_the_shortcut_of_one_ear_leaves_the_other_as_it_was() -> None:
    first = clear(FORM, normal_values("occluding", "all"), None).form

    made = clear(first, normal_values("some", "all"), None, ("left",)).form

    assert made.right == first.right
    assert made.left.wax_found == "some"


@given(
    keys=st.lists(
        st.tuples(st.sampled_from(SIDES), st.sampled_from(FIELDS), st.sampled_from("0123456789")),
        max_size=25,
    ),
    seen=st.sampled_from([word for word, _ in SEEN]),
)
def test_no_keys_lose_what_was_typed_before_the_shortcut(keys: list, seen: str) -> None:
    form = FORM
    for side, row, key in keys:
        form = press(form, side, row, key) or form

    made = clear(form, normal_values("partial", seen), None).form

    for side in SIDES:
        assert recorded(form.ear(side)).items() <= recorded(made.ear(side)).items()


def test_what_cannot_be_is_said_in_the_words_of_the_form() -> None:
    form = press(FORM, "right", BY_NAME["drum_seen"], "2")
    assert form is not None
    form = press(form, "right", BY_NAME["effusion"], "0")
    assert form is not None

    (wrong,) = wrongs(form)

    assert wrong.says == "Right: “Fluid” and “Drum seen” cannot both be so."
    assert wrong.fields == ("drum_seen", "effusion")


def test_hearing_traces_and_dates_are_typed_as_text_and_read_back() -> None:
    levels = read_levels("15 20 nr 40 3000=35")
    assert show_levels(levels) == "15 20 nr 40 3000=35"
    for text in ("C1", "flat 1.2", "-150 0.4 1.1", "flat", "20 0.6"):
        assert show_trace(read_trace(text)) == text
    for text in ("2026-08", "2026-08-03", "6w"):
        assert show_when(read_when(text, ON)) == text


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("hearing_dB", "15 15 20 25 30"),
        ("hearing_dB", "999"),
        ("hearing_dB", "3333=20"),
        ("hearing_dB", "-"),
        ("tympanogram", "Q"),
        ("tympanogram", "-150"),
        ("tympanogram", "flat x"),
        ("clearance_tries", "many"),
        ("discharge_since", "sometime"),
    ],
)
def test_what_cannot_be_read_is_refused_with_how_to_type_it(name: str, text: str) -> None:
    with pytest.raises(InputError) as refused:
        write(FORM, "right", BY_NAME[name], text)
    assert refused.value.hint


@pytest.mark.parametrize(
    ("over", "days"), [("20", 20), ("6w", 42), ("3 months", 90), ("2y", 730), ("1000", 1000)]
)
def test_how_long_something_took_to_come_on_is_typed_in_days_or_longer(
    over: str, days: int
) -> None:
    assert read_onset(over) == days


@pytest.mark.parametrize("over", ["quickly", "2 y ago", "-3", "6x"])
def test_what_is_no_length_of_time_is_refused(over: str) -> None:
    with pytest.raises(InputError):
        read_onset(over)


def test_an_emptied_text_is_not_recorded() -> None:
    form = write(FORM, "right", BY_NAME["hearing_dB"], "15 15 15 20")

    assert cell_words(form.right, BY_NAME["hearing_dB"]) == "16.25 dB"
    assert write(form, "right", BY_NAME["hearing_dB"], " ").right.hearing_dB is None


def test_a_form_gives_its_visit_and_comes_back_from_it() -> None:
    form = clear(FORM, normal_values("some", "all"), None, ("right",)).form

    assert form.visit.left is None
    assert form_of(form.visit) == form
    assert FORM.is_empty
    assert not form.is_empty


def test_the_last_findings_are_those_last_recorded_with_their_day() -> None:
    case = Case(
        born=BORN,
        visits=(
            Visit(on=date(2026, 3, 1), right=Ear(effusion="present", tensa_grade=1)),
            Visit(on=date(2026, 6, 1), right=Ear(effusion="absent")),
        ),
    )

    ear, days = last_ear(case, "right")

    assert (ear.effusion, ear.tensa_grade) == ("absent", 1)
    assert days == {"effusion": date(2026, 6, 1), "tensa_grade": date(2026, 3, 1)}
    assert words_of("drum_seen", "full") == "whole"


def test_a_long_name_gives_way_and_never_what_tells_two_people_apart() -> None:
    known = SimpleNamespace(
        name="Bartholomew " * 9, born=date(2019, 2, 28), postcode="WF99 4ZZ", ref="W1234"
    )

    line = who_line(known, date(2026, 9, 7), 78).plain  # type: ignore[arg-type]

    assert len(line) <= 78
    assert "born 28 Feb 2019 (7)   WF99 4ZZ   W1234" in line
    assert "…" in line


def test_what_the_digits_mean_fits_one_line_of_the_smallest_screen() -> None:
    for row in FIELDS:
        answers = "".join(f"{each.key} {each.words}  " for each in row.answers).rstrip()
        assert len(answers if row.kind == "words" else f"Enter {row.hint}") <= 78, row.label


@pytest.mark.parametrize(
    ("letters", "labels"),
    [
        ("at", ["Attic (Tos)", "Attic", "Attic crust"]),
        ("pe", ["Hole in drum", "Hole from", "Hole is new"]),
        ("gr", ["Grommet", "Granulation", "Grommet since"]),
        ("fl", ["Fluid"]),
        ("to", ["Attic (Tos)"]),
        ("dr", ["Drum seen"]),
        ("zz", []),
    ],
)
def test_the_likeliest_finding_comes_first_whose_name_begins_so(
    letters: str, labels: list[str]
) -> None:
    assert [FIELDS[n].label for n in places_by_letters(letters)][: len(labels)] == labels
    assert bool(places_by_letters(letters)) is bool(labels)
