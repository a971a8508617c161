"""Each library that is installed with the program may be used by it, by its own words."""

import pytest

from tests.tools.libraries import LOCKS, licences, to_look_at


@pytest.mark.parametrize("lock", LOCKS)
def test_the_licence_of_each_library_was_looked_at(lock: str) -> None:
    found = licences(lock)
    assert "not installed here" not in found.values()
    assert to_look_at(found) == []


def test_a_licence_that_takes_the_whole_program_is_told() -> None:
    said = {"a": "AGPL-3.0-only", "b": "", "c": "GPL-3.0", "d": "MIT", "e": "Proprietary"}
    assert to_look_at(said) == ["a", "b", "c", "e"]
