"""What is printed again is held against what was printed first: the same text, or said in what not.

The file beside the pages keeps each letter as it was printed the first time, and the batch a
digest of all of them: what was changed since is said at every printing, and before the batch is
said to be posted.
"""

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


def first_printed(batch: Batch, path: Path) -> dict[str, str] | None:
    """Return the text of each letter as it was printed first, from the file beside the pages.

    None where it was never printed, or the file is gone.
    """
    if batch.printed_at is None:
        return None
    kept = kept_at(path)
    if kept is None:
        return None
    return {msgspec.json.decode(one["fields"])["number"]: one["body"] for one in kept.letters}


def digest_after(
    batch: Batch, first: Mapping[str, str] | None, bodies: Mapping[str, str]
) -> str | None:
    """Return the digest of a batch that is printed: of each letter as it was printed first.

    Where it is in doubt what was printed first, it stays: what differs is said each time.
    """
    if batch.printed_at is None:
        return digest_of(bodies)
    if first is None or batch.text_digest != digest_of(first):
        return batch.text_digest
    return digest_of({**bodies, **first})


def changed_since(batch: Batch, path: Path, bodies: Mapping[str, str]) -> tuple[str, ...]:
    """Say which letters of a printed batch are another text by now than was printed first.

    Args:
        batch: one that was printed.
        path: the file beside its pages.
        bodies: the text of each letter that was ever printed, as it is kept now.
    """
    first = first_printed(batch, path)
    before = None if first is None else {n: Sheet(body) for n, body in first.items()}
    now = {number: Sheet(body) for number, body in bodies.items()}
    erased = dict.fromkeys(set(first or ()) - now.keys(), "it is not in the register any more")
    return differences(batch, before, now, erased)


def differences(
    batch: Batch,
    before: Mapping[str, Sheet] | None,
    now: Mapping[str, Sheet],
    left_out: Mapping[str, str],
) -> tuple[str, ...]:
    """Say in what a batch is not what was printed first, one line each; nothing at first.

    Args:
        batch: as it was when it was printed before.
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
_FILE = "The file beside the pages is not that of the printing: what it says is in doubt."


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
