"""What a font file says of its characters: which it has, and how wide each is.

Only what that asks for is read, after the OpenType specification 1.9.1 (ISO/IEC 14496-22): the
table directory ("Organization of an OpenType font"), `head` (units per em), `hhea` and `hmtx`
(advance widths), and of `cmap` the two formats that fonts of today carry, 4 and 12. The tests
hold it against a general library.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from struct import unpack_from

_WHOLE = ((3, 10), (0, 6), (0, 4))
"""Platform and encoding of a map of every plane of Unicode; taken before one of the first."""
_FIRST_PLANE = ((3, 1), (0, 3))


def advances(path: Path) -> dict[str, float]:
    """Return the advance of each character of a font in thousandths of the size."""
    data = path.read_bytes()
    tables = _tables(data)
    (em,) = unpack_from(">H", data, tables["head"] + 18)
    (measured,) = unpack_from(">H", data, tables["hhea"] + 34)
    widths = unpack_from(">" + "Hh" * measured, data, tables["hmtx"])[::2]
    # Glyphs beyond the last that is measured are as wide as that one.
    return {
        chr(code): widths[min(glyph, measured - 1)] * 1000 / em
        for code, glyph in _glyphs(data, tables["cmap"])
    }


def _tables(data: bytes) -> dict[str, int]:
    """Return where each table begins."""
    (count,) = unpack_from(">H", data, 4)
    records = (unpack_from(">4sIII", data, 12 + 16 * n) for n in range(count))
    return {tag.decode("ascii"): offset for tag, _checksum, offset, _length in records}


def _glyphs(data: bytes, cmap: int) -> Iterator[tuple[int, int]]:
    """Give each character's code with its glyph; glyph 0 stands for a missing one."""
    (count,) = unpack_from(">H", data, cmap + 2)
    found = {}
    for n in range(count):
        platform, encoding, offset = unpack_from(">HHI", data, cmap + 4 + 8 * n)
        found[platform, encoding] = cmap + offset
    at = next(found[key] for key in (*_WHOLE, *_FIRST_PLANE) if key in found)
    (format_,) = unpack_from(">H", data, at)
    if format_ not in _FORMATS:
        raise ValueError(f"A font maps its characters in format {format_}, which is not read.")
    return ((code, glyph) for code, glyph in _FORMATS[format_](data, at) if glyph)


def _segments(data: bytes, at: int) -> Iterator[tuple[int, int]]:
    """Read format 4, "Segment mapping to delta values": characters of the first plane."""
    (double,) = unpack_from(">H", data, at + 6)
    row = ">" + "H" * (double // 2)
    ends = unpack_from(row, data, at + 14)
    # Two bytes of padding lie after the ends.
    starts, deltas, offsets = (unpack_from(row, data, at + 16 + double * n) for n in (1, 2, 3))
    for n, (start, end, delta, offset) in enumerate(
        zip(starts, ends, deltas, offsets, strict=True)
    ):
        place = at + 16 + double * 3 + 2 * n + offset
        for code in range(start, min(end, 0xFFFE) + 1):
            glyph = code
            if offset:
                (glyph,) = unpack_from(">H", data, place + 2 * (code - start))
                if not glyph:
                    continue
            yield code, (glyph + delta) & 0xFFFF


def _groups(data: bytes, at: int) -> Iterator[tuple[int, int]]:
    """Read format 12, "Segmented coverage": characters of every plane."""
    (count,) = unpack_from(">I", data, at + 12)
    for n in range(count):
        start, end, glyph = unpack_from(">III", data, at + 16 + 12 * n)
        yield from zip(range(start, end + 1), range(glyph, glyph + end - start + 1), strict=True)


_FORMATS = {4: _segments, 12: _groups}
