"""A changed protocol as the manual has it changed: copied, signed, adopted; signed all along."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from recall.errors import Refused
from recall.protocol.loading import load
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture

SHIPPED = (files("recall.protocol") / "default.toml").read_text("utf-8")
OWN_RULE = """
[[rule]]
id = "attic-looked-at-again"
version = 1
since = 2027-01-04
category = "retraction_watch"
track = "retraction"
when.ear.attic_grade = "2 or worse"
ask = { kind = "recheck", do = ["otoscopy"], from = "visit", earliest = "2 months", target = "3 months", latest = "4 months", needs = ["attic"] }
urgency = "medium"
says_aloud = "We would like to look at the ear drum again."
says = "Attic drawn in: looked at again."
source = "common practice, no source found"
known_by = "CP"
"""  # noqa: E501
CHANGED = SHIPPED + OWN_RULE
NOT_SIGNED = "Protocol not yet signed off by this practice"


def said_of_rules(typed: Typed) -> str:
    return typed("queue")[2]


@pytest.fixture
def own(tmp_path: Path) -> Path:
    (made := tmp_path / "mine.toml").write_text(CHANGED, "utf-8")
    return made


def name_it(folder: Path) -> None:
    settings = folder / "recall.toml"
    text = settings.read_text("utf-8")
    assert "[files]" in text
    settings.write_text(text.replace("[files]", '[files]\nprotocol = "mine.toml"', 1), "utf-8")


def test_whoever_may_not_adopt_does_not_sign(typed: Typed, own: Path) -> None:
    assert typed("protocol", "sign", str(own), by="rob")[0] == Refused.exit_code
    assert not load(own).signed_off


def test_a_file_that_the_settings_name_is_signed_beside_it_and_stays_signed_when_adopted(
    typed: Typed, own: Path, tmp_path: Path
) -> None:
    name_it(tmp_path)
    assert typed("protocol", "sign", str(own), by="clara")[0] == 0
    assert load(own).signed_off
    status, _, said = typed("protocol", "adopt", "--yes", by="clara")
    assert (status, "not signed off" in said) == (0, False)
    assert NOT_SIGNED not in said_of_rules(typed)
    own.write_text(SHIPPED + OWN_RULE.replace("3 months", "14 weeks"), "utf-8")
    assert not load(own).signed_off
    assert NOT_SIGNED not in said_of_rules(typed), "what was adopted is what was signed"


def test_the_sign_off_of_a_file_that_no_setting_names_is_kept_when_it_is_adopted(
    typed: Typed, own: Path
) -> None:
    assert NOT_SIGNED in said_of_rules(typed)
    assert typed("protocol", "sign", str(own), by="clara")[0] == 0
    assert typed("protocol", "adopt", str(own), "--yes", by="clara")[0] == 0
    assert NOT_SIGNED not in said_of_rules(typed)
