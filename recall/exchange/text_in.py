"""Which encoding a file is in, and whether it is a text table at all."""

from __future__ import annotations

import codecs
from collections.abc import Iterable
from pathlib import Path

from recall.errors import InputError

_CHUNK = 1 << 20
_NOT_TABLES: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a spreadsheet workbook or a zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3", "a database"),
    (b"\x1f\x8b", "a compressed file"),
    (b"{\\rtf", "a word processor's document"),
    (b"<", "a web page or XML"),
)
_BOMS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def encoding_of(path: Path, declared: str = "auto") -> str:
    """Return the name of the encoding to read `path` with.

    A byte order mark settles it. Otherwise the whole file is tried as strict
    UTF-8: text in Windows-1252 with any accent fails that in practice, so what
    fails is Windows-1252, unless most of its other letters are right in UTF-8:
    then a stray byte costs its own cell.

    Raises:
        InputError: the file cannot be read, is empty, or is no text table.
    """
    try:
        with path.open("rb") as file:
            start = file.read(_CHUNK)
            _refuse_what_is_no_table(start, path.name)
            for mark, name in _BOMS:
                if start.startswith(mark):
                    return name
            if declared == "windows-1252":
                return "cp1252"
            file.seek(0)
            wrong_at = _first_byte_not_utf8(iter(lambda: file.read(_CHUNK), b""))
            file.seek(0)
            stray = wrong_at is not None and _is_mostly_utf8(iter(lambda: file.read(_CHUNK), b""))
    except OSError as error:
        why = error.strerror or str(error)
        raise InputError(f"{path} cannot be read: {why}.", hint="Check the name.") from None
    if wrong_at is None:
        return "utf-8"
    if declared == "utf-8":
        raise InputError(
            f"{path.name} is not UTF-8: line {wrong_at} holds a byte that cannot be.",
            hint='Export it as UTF-8, or set the encoding to "windows-1252" or "auto".',
        )
    return "utf-8" if stray else "cp1252"


def _is_mostly_utf8(chunks: Iterable[bytes]) -> bool:
    """Return whether more of the letters beyond plain ones are right in UTF-8 than are not."""
    decoder = codecs.getincrementaldecoder("utf-8")("replace")
    right = wrong = 0
    for chunk in chunks:
        text = decoder.decode(chunk)
        wrong += text.count("\ufffd")
        right += sum(not c.isascii() for c in text) - text.count("\ufffd")
    return right > wrong


def _refuse_what_is_no_table(start: bytes, name: str) -> None:
    """Refuse a file whose first bytes show that it is something else."""
    if not start.strip():
        raise InputError(f"{name} is empty.", hint="Export it again, with headings.")
    text = start.removeprefix(codecs.BOM_UTF8).lstrip()
    for mark, kind in _NOT_TABLES:
        if text.startswith(mark):
            raise InputError(
                f"{name} is {kind}, not a CSV table.",
                hint="Export or save the list as CSV (comma separated) and give that file.",
            )
    has_mark = any(start.startswith(mark) for mark, _ in _BOMS)
    if not has_mark and start.count(0) > len(start) // 10:
        raise InputError(
            f"{name} is not plain text: it is full of zero bytes.",
            hint="Export it as CSV in UTF-8.",
        )


def _first_byte_not_utf8(chunks: Iterable[bytes]) -> int | None:
    """Return the line of the first byte that UTF-8 does not allow, or None."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    line = 1
    for chunk in chunks:
        try:
            decoder.decode(chunk)
        except UnicodeDecodeError as error:
            return line + error.object[: error.start].count(b"\n")
        line += chunk.count(b"\n")
    try:
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return line
    return None
