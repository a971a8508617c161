"""The sign-off names who signed which exact content; any change to it shows."""

from __future__ import annotations

from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from recall.errors import InputError, ProtocolError
from recall.protocol.loading import load
from recall.protocol.signing import SignOff, read_sign_off, write_sign_off

TEXT = (files("recall.protocol") / "default.toml").read_text("utf-8")


def signed(tmp_path: Path) -> tuple[Path, Path]:
    own, beside = tmp_path / "own.toml", tmp_path / "own.signed.toml"
    own.write_text(TEXT, "utf-8")
    found = load(own)
    write_sign_off(
        beside, SignOff(found.digest, 'Dr "A" Ŵyn', date(2026, 9, 1), found.name, found.version)
    )
    return own, beside


def test_signed_content_loads_as_signed_and_the_name_comes_back(tmp_path: Path) -> None:
    own, beside = signed(tmp_path)

    assert load(own).signed_off
    found = read_sign_off(beside)
    assert found is not None
    assert (found.by, found.on) == ('Dr "A" Ŵyn', date(2026, 9, 1))


def test_a_comment_does_not_undo_the_sign_off_but_a_day_does(tmp_path: Path) -> None:
    own, _ = signed(tmp_path)

    own.write_text("# read again\n" + TEXT, "utf-8")
    assert load(own).signed_off
    own.write_text(TEXT.replace('latest = "8 weeks"', 'latest = "9 weeks"', 1), "utf-8")
    assert not load(own).signed_off


def test_a_broken_sign_off_is_one_sentence(tmp_path: Path) -> None:
    own, beside = signed(tmp_path)
    beside.write_text("digest = [", "utf-8")

    with pytest.raises(ProtocolError, match="cannot be read"):
        load(own)


def test_a_sign_off_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is something there that is no file"):
        write_sign_off(tmp_path, SignOff("a", "b", date(2026, 9, 1), "c", "1"))
