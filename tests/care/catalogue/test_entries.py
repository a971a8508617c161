"""One entry a finding: each says enough for everything that is made from it."""

from __future__ import annotations

import msgspec
import pytest

from recall.care.catalogue import CATALOGUE
from recall.care.catalogue import _read as entries_of
from recall.care.ear import EAR_FIELDS, Ear, recorded

WORDED = [finding for finding in CATALOGUE.values() if finding.values]


def test_the_case_file_and_the_catalogue_name_the_same_findings() -> None:
    assert tuple(CATALOGUE) == EAR_FIELDS == tuple(f.name for f in msgspec.structs.fields(Ear))


@pytest.mark.parametrize("finding", WORDED, ids=lambda f: f.name)
def test_every_value_that_an_entry_names_can_be_recorded(finding) -> None:
    told = [*finding.values, *(v for values in finding.signs.values() for v in values)]
    told += finding.stays.values if finding.stays else ()
    told += [finding.normal] if finding.normal is not None else []
    for value in told:
        assert recorded(msgspec.convert({finding.name: value}, Ear)) == {finding.name: value}


@pytest.mark.parametrize("finding", WORDED, ids=lambda f: f.name)
def test_what_is_not_normal_can_be_asked_for_by_a_rule(finding) -> None:
    """Except what only says how often or by what, and that nobody tried."""
    if finding.kind or finding.holds == "count" or finding.name == "clearance_by":
        return
    by_sign = {value for values in finding.signs.values() for value in values}
    assert set(finding.worse) - by_sign <= {"not_attempted"}


def test_what_a_shortcut_may_write_as_clear_has_a_normal_value() -> None:
    for finding in CATALOGUE.values():
        assert not finding.clear_in or finding.normal is not None


def test_the_type_lists_a_scale_from_the_mildest_on() -> None:
    for finding in WORDED:
        if finding.kind == "scale":
            assert finding.normal == finding.values[0]


def test_a_usual_visit_has_each_place_of_the_form_once() -> None:
    places = sorted(f.usual for f in CATALOGUE.values() if f.usual)
    assert places == list(range(1, len(places) + 1))


def test_a_flag_can_be_either_and_is_worse_where_it_is_there() -> None:
    assert CATALOGUE["keratin"].values == (False, True)
    assert CATALOGUE["keratin"].worse == (True,)
    assert CATALOGUE["keratin"].is_flag and not CATALOGUE["tensa_grade"].is_flag


def test_a_field_without_an_entry_is_named() -> None:
    nameless = msgspec.defstruct("Nameless", [("itching", bool | None, None)])

    with pytest.raises(TypeError, match="the field itching has no entry"):
        list(entries_of(nameless))


def test_a_grade_is_no_flag_and_a_flag_no_grade() -> None:
    assert CATALOGUE["tensa_grade"].is_normal(0)
    assert not CATALOGUE["tensa_grade"].is_normal(False)
    assert CATALOGUE["keratin"].is_normal(False)
    assert not CATALOGUE["keratin"].is_normal(0)
    assert not CATALOGUE["clearance"].is_normal(None)
    assert not CATALOGUE["hearing_dB"].is_normal(None)


def test_what_was_found_not_normal_forbids_water_unless_its_entry_says_otherwise() -> None:
    """No irrigation with an object in the canal (vegetable matter swells): Devon ear wax
    guideline; inflamed skin and a cavity: from memory. A narrow canal only asks for more care."""
    forbids = {n for n, f in CATALOGUE.items() if f.caution and f.caution.no_water}
    warns = {n for n, f in CATALOGUE.items() if f.caution and not f.caution.no_water}

    assert forbids >= {"foreign_body", "canal_skin", "canal_swollen_shut", "cavity"}
    assert warns >= {"canal_narrow", "exostoses"}


def test_a_normal_finding_is_told_in_full_only_where_its_entry_says_so() -> None:
    told = {name for name, finding in CATALOGUE.items() if finding.told}

    assert told >= {"clearance", "hearing_after", "perforation_new"}
    assert not told & {"effusion", "tensa_grade", "keratin", "drum_seen", "hearing_dB"}


def test_some_wax_and_a_healed_hole_show_an_ear_clear_beside_the_normal_value() -> None:
    """Some wax is no reason to look again: common practice, no source."""
    assert CATALOGUE["wax_left"].shows_clear == ("none", "some")
    assert CATALOGUE["perforation"].shows_clear == ("none", "healed")
    assert CATALOGUE["effusion"].shows_clear == ("absent",)


def test_what_says_how_an_ear_was_looked_at_is_a_circumstance_and_no_finding() -> None:
    circumstances = {name for name, finding in CATALOGUE.items() if finding.circumstance}

    assert circumstances >= {"drum_seen", "not_examined", "treated", "perforation_cause"}
    assert not circumstances & {"effusion", "tensa_grade", "keratin", "discharge", "hearing_screen"}
