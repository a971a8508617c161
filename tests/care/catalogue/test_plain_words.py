"""Whatever a look can find is told to the person in plain words, or somebody said why not."""

from recall.care.catalogue import CATALOGUE

UNTOLD = {
    "wax_left": "`wax_found` tells of the wax",
    "perforation_new": "`perforation` tells of the hole",
    "cavity_quiet": "`cavity` tells of the open space",
    "tympanogram": "what it shows is told by the finding that it supports",
}


def test_what_a_look_finds_has_plain_words_or_a_reason() -> None:
    found = {name for name, e in CATALOGUE.items() if e.kind and not e.circumstance}
    assert {name for name in found if not CATALOGUE[name].plain} == set(UNTOLD)
