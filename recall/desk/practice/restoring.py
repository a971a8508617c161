"""Restoring a backup: tried aside, compared with the register in place, then put in its place.

It needs no register that can be opened. What is put in place already holds the line that says so,
and what left the house after the backup, as the files beside the pages tell.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.replanning import mark, replan
from recall.desk.core.rights import ROLE_WORDS, Right, has_right
from recall.desk.core.session import open_by_name, staff_member
from recall.desk.post import letter_keys
from recall.desk.practice import erasing
from recall.errors import InputError, RecallError, Refused
from recall.records.database import erased_list, restoring
from recall.records.database.restoring import Comparison
from recall.records.database.store import open_store
from recall.records.journal import head_file, history
from recall.records.journal.history import Change


@dataclass(frozen=True)
class Restored:
    """What came of a restore."""

    compared: Comparison
    old: Path | None
    """Where the file is that was in place."""
    letters: int
    """Letters that left after the backup, and are known again."""
    unknown: int
    """Letters that left about what the backup does not hold: none of that step goes out anew."""
    erased: int = 0
    """People who were erased after the backup was made, and are erased again."""


def rehearse(config: Config, backup: Path) -> Comparison:
    """Try a backup aside and compare it with the register; nothing is changed.

    Raises:
        StorageError: it is missing, damaged, no register, or its history is broken.
    """
    with restoring.aside(backup, config.files.database) as trial:
        return _tried(config, backup, trial)


def restore(config: Config, backup: Path, by: str, expect: int) -> Restored:
    """Put a backup in the register's place, at one stroke.

    Args:
        config: the practice's settings.
        backup: the file.
        by: who says so, on the backup's staff table.
        expect: the number that the comparison showed.

    Raises:
        StorageError: it is missing, damaged, no register, or its history is broken.
        InputError: the number is another one by now.
        Refused: whoever says so may not, or somebody has the register open.
    """
    place, clock = config.files.database, Clock(config.calendar.time_zone)
    with restoring.aside(backup, place) as trial:
        compared = _tried(config, backup, trial)
        if compared.number != expect:
            raise InputError(
                f"{expect} is not the number: it is {compared.number} by now.",
                hint="Nothing was changed; look at what would be lost, and give that number.",
            )
        brought, erased = _write_down(config, trial, compared, by, clock)
        old = restoring.put_in_place(trial, place, clock.now())
    head_file.begin_anew(place)
    with suppress(RecallError):  # who is not planned stays on the list, and every list says so
        _plan_again(config, by, clock)
    return Restored(compared, old, brought.known, len(brought.unknown), erased)


def _tried(config: Config, backup: Path, trial: Path) -> Comparison:
    """Look through a copy that lies aside: every link of its history, and what it lacks."""
    store = open_store(trial)
    try:
        broken = history.verify(store)
    finally:
        store.close()
    if broken:
        raise Refused(
            f"The history in {backup.name} is broken in {len(broken)} place(s), first at "
            f"{broken[0].seq}: {broken[0].because}.",
            hint="Nothing was changed; try another backup.",
        )
    return restoring.compare(backup, trial, config.files.database)


def _write_down(
    config: Config, trial: Path, compared: Comparison, by: str, clock: Clock
) -> tuple[letter_keys.Brought, int]:
    """Write into the copy that it was restored, what left the house since, who was erased."""
    store = open_store(trial)
    try:
        member = staff_member(store, by, clock.today())
        if not has_right(member.role, Right.MAINTAIN):
            raise Refused(f"{by} ({ROLE_WORDS[member.role]}) may not {Right.MAINTAIN}.")
        with store.write() as session:
            kept = letter_keys.kept_in(config.files.letters)
            brought = letter_keys.bring_back(session, kept, member.id)
            mark(session, (c.person_id for c in brought.changes if c.person_id is not None))
            line = Change(letter_keys.RESTORED, "register", 1, now=_told(compared, brought))
            history.append_all(session, member.id, clock.now(), [line, *brought.changes])
            erased = erasing.erase_again(session, config, compared.backup, member.id, clock.now())
    finally:
        store.close()
    if erased:
        erased_list.overwrite_free_space(trial)
    return brought, erased


def _plan_again(config: Config, by: str, clock: Clock) -> None:
    """Plan whoever has a letter that left since: their next step is another one by that."""
    desk = open_by_name(config, by, clock)
    try:
        replan(desk)
    finally:
        desk.close()


def _told(compared: Comparison, brought: letter_keys.Brought) -> dict[str, object]:
    now = compared.now
    return {
        "backup": compared.backup.name,
        "backup_head": [compared.then.number, compared.then.digest],
        "replaced_head": [now.number, now.digest] if now else None,
        "lost": compared.lost,
        "letters_known": brought.known,
        "letters_unknown": list(brought.unknown),
    }
