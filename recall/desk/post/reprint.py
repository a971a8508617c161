"""What is printed again is held against what was printed: the same text, or said in what not."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec

from recall.desk.post.letter_keys import kept_at
from recall.letters.composed import from_json
from recall.letters.order import in_posting_order
from recall.records.tables import Batch, Letter


@dataclass(frozen=True)
class Sheet:
    """What one letter says: its text as it is kept, and what stands at its foot."""

    body: str
    edge: str = ""


def digest_of(bodies: Mapping[str, str]) -> str:
    """Return a digest of the letters of a batch, by number."""
    digest = hashlib.sha256()
    for number in sorted(bodies):
        digest.update(bodies[number].encode())
    return digest.hexdigest()


def feet_of(
    rows: Mapping[str, Letter], words: Callable[[Iterable[Letter]], dict[int, str]]
) -> dict[str, str]:
    """Return by number what stands at the foot of letters, as they lie on the pile."""
    ordered = in_posting_order(from_json(row.body) for row in rows.values())
    found = words(rows[letter.number] for letter in ordered)
    return {number: found[row.id] for number, row in rows.items() if row.id in found}


def printed_before(path: Path) -> dict[str, str] | None:
    """Return the text of each letter as it was printed, from the file beside the pages."""
    kept = kept_at(path)
    if kept is None:
        return None
    return {msgspec.json.decode(one["fields"])["number"]: one["body"] for one in kept.letters}


def differences(
    batch: Batch,
    before: Mapping[str, Sheet] | None,
    now: Mapping[str, Sheet],
    left_out: Mapping[str, str],
) -> tuple[str, ...]:
    """Say in what a batch is not what was printed before, one line each; nothing at first.

    Args:
        batch: as it was when it was printed last.
        before: what the file beside the pages says; None where there is none to be read.
        now: what is printed.
        left_out: why something is not printed.
    """
    if batch.printed_at is None:
        return ()
    bodies = {number: sheet.body for number, sheet in (now if before is None else before).items()}
    same = batch.text_digest == digest_of(bodies)
    if before is None:
        return () if same else (_AS_A_WHOLE,)
    return (*(() if same else (_FILE,)), *_each(before, now, left_out))


_AS_A_WHOLE = (
    "The text as a whole is not what was printed; the file beside the pages that says which "
    "letter is gone."
)
_FILE = "The file beside the pages is not that of the last printing: what it says is in doubt."


def _each(
    before: Mapping[str, Sheet], now: Mapping[str, Sheet], left_out: Mapping[str, str]
) -> Iterator[str]:
    for number in sorted({*before, *now}):
        if number not in now:
            because = left_out.get(number, "it is not in the batch any more")
            yield f"{number}: was printed, and is not now: {because}"
        elif number not in before:
            yield f"{number}: is printed now, and was not before"
        elif before[number].body != now[number].body:
            yield f"{number}: its text is another than was printed"
        elif before[number].edge != now[number].edge:
            was, is_ = before[number].edge or "nothing", now[number].edge or "nothing"
            yield f"{number}: at its foot stood {was}, and now {is_}"
