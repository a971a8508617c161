"""The reader of font files against a general library: each character, each width, both formats."""

from __future__ import annotations

from pathlib import Path
from struct import pack_into, unpack_from

import pytest
from fontTools.ttLib import TTFont

from recall.letters import opentype
from recall.letters.coverage import FONTS

FILES = sorted(FONTS.glob("*.ttf"))


def by_the_library(path: Path, platform: int, encoding: int) -> dict[str, float]:
    with TTFont(path) as font:
        widths, em = font["hmtx"].metrics, font["head"].unitsPerEm
        glyphs = font["cmap"].getcmap(platform, encoding).cmap
        return {chr(code): widths[glyph][0] * 1000 / em for code, glyph in glyphs.items()}


def maps(data: bytes) -> dict[tuple[int, int], tuple[int, int]]:
    """Return where each map's record and the map itself lie."""
    at = next(
        unpack_from(">I", data, 12 + 16 * n + 8)[0]
        for n in range(unpack_from(">H", data, 4)[0])
        if data[12 + 16 * n :][:4] == b"cmap"
    )
    found = {}
    for n in range(unpack_from(">H", data, at + 2)[0]):
        platform, encoding, offset = unpack_from(">HHI", data, at + 4 + 8 * n)
        found[platform, encoding] = at + 4 + 8 * n, at + offset
    return found


def left_with(path: Path, folder: Path, kept: tuple[int, int]) -> Path:
    """Return a copy of a font in which only one map is called a map of Unicode."""
    data = bytearray(path.read_bytes())
    for key, (record, _at) in maps(bytes(data)).items():
        if key != kept:
            pack_into(">HH", data, record, 1, 0)
    copy = folder / path.name
    copy.write_bytes(data)
    return copy


def test_there_are_fonts() -> None:
    assert len(FILES) == 2


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_it_finds_what_the_library_finds(path: Path) -> None:
    found = opentype.advances(path)
    assert len(found) > 1500
    assert found == by_the_library(path, 3, 10)


@pytest.mark.parametrize("kept", [(3, 1), (0, 3), (0, 4)])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_so_it_does_where_there_is_only_one_map(
    path: Path, kept: tuple[int, int], tmp_path: Path
) -> None:
    assert opentype.advances(left_with(path, tmp_path, kept)) == by_the_library(path, *kept)


def test_a_map_in_another_format_is_refused(tmp_path: Path) -> None:
    data = bytearray(FILES[0].read_bytes())
    for _record, at in maps(bytes(data)).values():
        pack_into(">H", data, at, 13)
    copy = tmp_path / "other.ttf"
    copy.write_bytes(data)
    with pytest.raises(ValueError, match="format 13"):
        opentype.advances(copy)
