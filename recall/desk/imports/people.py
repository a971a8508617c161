"""People from a file become rows: the person, ways to reach them, adults, risks, search keys."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from msgspec.structs import replace
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.config import site_meant
from recall.desk.imports.desk_first import (
    Held,
    changed_at_desk,
    held_people,
    hold_back,
    of_others,
    told,
)
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    FileDigests,
    Fresh,
    Importer,
    Loss,
    Refused,
    changed_fields,
    field_digests,
    file_digests,
    pairs,
    remember,
)
from recall.desk.imports.lost_letters import LOST, has_lost, names_of
from recall.desk.imports.people_items import Items, items_of, let_nobody_ring
from recall.desk.imports.people_rows import Told, bring_up_to_date, insert_items, last_items
from recall.desk.imports.taking_away import NEVER_EMPTIED, SAFE_ONLY, silent_names
from recall.errors import InputError
from recall.exchange.people_in import PersonRow, read_people
from recall.exchange.problem import Problem, Wrong
from recall.records import tables
from recall.records.database.bulk import insert_tuples, numbered_tuples
from recall.records.journal import seals
from recall.records.people.finding import rekey
from recall.records.people.search_keys import keys_of
from recall.records.tables.statements import REFS, given, many, table_of

KIND = "people"
IN_THE_FILE = "In the practice's file again."
TELLS_APART = frozenset({"given_name", "family_name", "born"})
NAMES = frozenset({"given_name", "family_name"})
PLANS_BY = frozenset({"born"})
"""Fields of the person themselves by which their plan is worked out; risks are items."""
Columns = dict[str, dict[str, Any]]
Changed = tuple[Held, Fresh[PersonRow], Items, set[str], Digests]
"""A person as they are, what the file says, the fields that it changed, what it said before."""


def _columns(row: PersonRow, batch: Batch) -> Columns:
    """Return the register's columns for each field of the file."""
    nhs = row.nhs_number
    objected_on = row.objected_on or (batch.desk.today if row.objected else None)
    return {
        "given_name": {"given_names": row.given_name},
        "family_name": {"family_name": row.family_name},
        "born": {"born": row.born},
        "sex": {"sex": row.sex},
        "nhs_number": {
            "nhs_number": (nhs.value or None) if nhs else None,
            "nhs_number_raw": nhs.raw if nhs and nhs.wrong else None,
            "nhs_number_problem": (nhs.wrong or None) if nhs else None,
        },
        "gp": {"gp": ", ".join(filter(None, (row.gp_name, row.gp_practice)))},
        "tell_gp": {"gp_may_be_told": row.tell_gp},
        "deceased_on": {"deceased_on": row.deceased_on},
        "objected": {"objected_on": objected_on},
        "language": {"language": row.language or batch.desk.config.letters.languages[0]},
        "letter_format": {"format": row.letter_format or "standard"},
        "interpreter": {"needs": (row.interpreter,) if row.interpreter else ()},
        "safe_contact": {"caller_note": row.safe_contact},
        "site": {"site": row.site},
    }


def _digests(row: PersonRow, items: Items) -> Digests:
    """Return the digests of the file's fields, and of each item of its lists."""
    fields = {
        "given_name": row.given_name,
        "family_name": row.family_name,
        "born": row.born,
        "sex": row.sex,
        "nhs_number": row.nhs_number and row.nhs_number.raw,
        "gp": (row.gp_name + row.gp_practice),
        "tell_gp": row.tell_gp,
        "deceased_on": row.deceased_on,
        "objected": row.objected_on or row.objected or None,
        "language": row.language,
        "letter_format": row.letter_format,
        "interpreter": row.interpreter,
        "safe_contact": row.safe_contact,
        "site": row.site,
        SAFE_ONLY: tuple(n for n, adult in enumerate(row.adults, 1) if adult.safe_only),
    }
    return field_digests(fields) | dict.fromkeys(items, "")


def write(session: Session, batch: Batch, page: Sequence[Fresh[PersonRow]]) -> Refused[PersonRow]:
    """Write some people; return those that only the register can know to be wrong."""
    page = _with_known_sites(batch, _with_own_numbers(session, batch, page))
    keys = [fresh.key for fresh in page]
    seen = file_digests(session, KIND, keys)
    by_ref = select(tables.Person.ref, tables.Person.id).where(tables.Person.ref.in_(REFS))
    known = dict(many(session, by_ref, keys))
    again = [known[key] for key in keys if key in known and key not in seen]
    _let_stand_again(session, batch, again)
    said = [(fresh, *_said(batch, seen, fresh)) for fresh in page]
    told = [(fresh, items) for fresh, items, _digests in said]
    digests = {fresh.key: now for fresh, _items, now in said}
    new = [(fresh, items) for fresh, items in told if fresh.key not in known]
    old = [(fresh, items) for fresh, items in told if fresh.key in known]
    _add(session, batch, new)
    refused = _change(session, batch, old, known, seen, digests) if old else []
    wrong = {fresh.key for fresh, _ in refused}
    landed = [(fresh, digests[fresh.key]) for fresh in page if fresh.key not in wrong]
    remember(session, batch, KIND, landed, seen)
    batch.done += len(page)
    return refused


def _let_stand_again(session: Session, batch: Batch, numbers: Sequence[int]) -> None:
    """Let people stand whom a run brought that was taken back, now that they come again."""
    person = table_of(tables.Person)
    void = person.c.id.in_(numbers), person.c.void_at.is_not(None)
    voided = session.scalars(select(person.c.id).where(*void)).all() if numbers else ()
    if voided:
        again: dict[str, Any] = {"void_at": None, "void_by_id": None, "void_why": None}
        session.execute(update(person).where(person.c.id.in_(voided)).values(**again))
    for number in voided:
        batch.tell("stands_again", "person", number, number, IN_THE_FILE)


def _with_own_numbers(
    session: Session, batch: Batch, page: Sequence[Fresh[PersonRow]]
) -> list[Fresh[PersonRow]]:
    """Keep aside an NHS number that is somebody else's: whose it is, is not guessed."""
    others, found = of_others(session, page), []
    for fresh in page:
        number, whose = fresh.row.nhs_number, others.get(fresh.key)
        if whose is None or number is None:
            found.append(fresh)
            continue
        wrong = f"is the NHS number of {whose} too"
        batch.kept.append(told(fresh, "nhs_number", wrong, "ask which of the two it is"))
        aside = replace(number, value="", wrong=wrong)
        found.append(fresh._replace(row=replace(fresh.row, nhs_number=aside)))
    return found


def _with_known_sites(batch: Batch, page: Sequence[Fresh[PersonRow]]) -> list[Fresh[PersonRow]]:
    """Put the handles of sites in the place of what the file calls them.

    Whoever is of a site that the practice does not list lands without one, and belongs to all.
    """
    found = []
    for fresh in page:
        try:
            site = site_meant(batch.desk.config.sites, fresh.row.site)
        except InputError:
            known = ", ".join(one.handle for one in batch.desk.config.sites)
            wrong = f"{fresh.row.site!r} is no site of this practice: they belong to all"
            batch.kept.append(told(fresh, "site", wrong, f"one of: {known}"))
            site = ""
        same = site == fresh.row.site
        found.append(fresh if same else fresh._replace(row=replace(fresh.row, site=site)))
    return found


def _said(
    batch: Batch, seen: dict[str, FileDigests], fresh: Fresh[PersonRow]
) -> tuple[Items, Digests]:
    """Return what the file says of a person, and what it had said of where it is silent now."""
    items = items_of(fresh.row, batch.desk.today)
    now = _digests(fresh.row, items)
    if fresh.key not in seen:
        return items, now
    before, silent = seen[fresh.key].fields, silent_names(batch)
    stays = {name: was for name, was in before.items() if silent(name)}
    for name in (n for n in NEVER_EMPTIED if n in before and n not in now and not silent(n)):
        stays[name] = before[name]
        batch.kept.append(_stands(fresh, name))
    said = {name: is_now for name, is_now in now.items() if not silent(name)}
    if SAFE_ONLY in stays:
        let_nobody_ring(items)
    return {key: item for key, item in items.items() if not silent(key)}, said | stays


def _stands(fresh: Fresh[PersonRow], column: str) -> Problem:
    return Problem(
        line=fresh.read.line,
        column=column,
        value="",
        wrong="is empty now, and what an earlier file said stands",
        right="take it back at the desk if it was wrong",
        kept=True,
    )


def _add(session: Session, batch: Batch, new: Sequence[tuple[Fresh[PersonRow], Items]]) -> None:
    """Insert people who are not in the register, with everything that belongs to them."""
    if not new:
        return
    made, rows = batch.made, list[dict[str, Any]]()
    for fresh, _items in new:
        values: dict[str, Any] = {"ref": fresh.key}
        for columns in _columns(fresh.row, batch).values():
            values.update(columns)
        rows.append(values)
    names, said = tuple(rows[0]), [tuple(row.values()) for row in rows]
    ids = numbered_tuples(session, tables.Person, names, said, made)
    pairs = [(number, items) for number, (_f, items) in zip(ids, new, strict=True)]
    insert_items(session, batch, pairs)
    # In the order of the table, which then takes them one behind the other.
    search = sorted(
        (kind, key, number)
        for number, (fresh, _items) in zip(ids, new, strict=True)
        for kind, key in _search_keys(fresh.row)
    )
    insert_tuples(session, tables.PersonKey, ("kind", "key", "person_id"), search)
    sealed = seals.of_new("person", names, said, made)
    for number, seal, (fresh, _items) in zip(ids, sealed, new, strict=True):
        batch.note("added", "person", number, number, seal=seal, ref=fresh.key)
    batch.named.update(ids)
    batch.added += len(new)


def _search_keys(row: PersonRow) -> set[tuple[str, str]]:
    """Return what a new person is found by, as `finding.rekey` would."""
    phones = [row.phone, row.phone_2, *(a.phone for a in row.adults)]
    places = [row.postcode, *(a.postcode for a in row.adults)]
    return keys_of(
        ref=row.reference,
        names=(row.given_name, row.family_name, *(a.name for a in row.adults)),
        born=row.born,
        phones=[n.given.value for cell in phones if cell for n in cell.numbers if n.given.value],
        postcodes=[i.value for i in places if i and i.value],
        nhs_number=row.nhs_number.value if row.nhs_number else None,
    )


def _change(
    session: Session,
    batch: Batch,
    old: Sequence[tuple[Fresh[PersonRow], Items]],
    known: dict[str, int],
    seen: dict[str, FileDigests],
    digests: dict[str, Digests],
) -> list[tuple[Fresh[PersonRow], Wrong]]:
    """Change what the file itself changed of people who are in the register."""
    numbers = [known[fresh.key] for fresh, _ in old]
    first_visits, held = _first_visits(session, numbers), held_people(session, numbers)
    usual = batch.desk.config.letters.languages[0]
    refused: list[tuple[Fresh[PersonRow], Wrong]] = []
    changes: list[Changed] = []
    for fresh, items in old:
        number = known[fresh.key]
        before = seen[fresh.key].fields if fresh.key in seen else {}
        fields = changed_fields(before, digests[fresh.key])
        first = first_visits.get(number)
        if "born" in fields and first is not None and first < fresh.row.born:
            said = f"is after a visit on {first}"
            refused.append((fresh, Wrong(said, "correct one of the two", "born")))
            continue
        theirs = changed_at_desk(held[number], before, fields, usual) if before else set()
        if differs := _differing(batch, fresh, held[number], theirs):
            hold_back(batch, fresh, differs)
        fields -= theirs
        if not fields:
            batch.unchanged += 1
            continue
        changes.append((held[number], fresh, items, fields, before))
    _update(session, batch, changes)
    return refused


def _differing(batch: Batch, fresh: Fresh[PersonRow], held: Held, names: set[str]) -> set[str]:
    """Return the fields, of those that the desk changed, which the file would have otherwise."""
    wanted = _columns(fresh.row, batch)
    return {
        name
        for name in names
        if any(getattr(held, c, None) != value for c, value in wanted[name].items())
    }


def _first_visits(session: Session, ids: Sequence[int]) -> dict[int, date]:
    c = tables.Visit
    wanted = select(c.person_id, func.min(c.on)).where(c.person_id.in_(ids), c.void_at.is_(None))
    return pairs(session, wanted.group_by(c.person_id))


def _is_somebody_else(held: Held, row: PersonRow) -> bool:
    """Return whether name and birth date both differ."""
    name = held.given_names, held.family_name
    return held.born != row.born and name != (row.given_name, row.family_name)


def _losses(held: Held, fresh: Fresh[PersonRow], fields: set[str]) -> Iterator[Loss]:
    """Give what goes of who somebody is, by the fields that the file changed."""
    row = fresh.row
    if "born" in fields and _is_somebody_else(held, row):
        yield Loss(fresh.key, "name and birth date of somebody", "who is it now")
    names = f"{held.given_names} {held.family_name}"
    if fields & NAMES and has_lost(names_of(row)) and not has_lost(names):
        yield Loss(fresh.key, LOST, f"{names_of(row)}, was {names}")


def _update(session: Session, batch: Batch, changes: Sequence[Changed]) -> None:
    """Write the changed fields and items of some people."""
    if not changes:
        return
    after = last_items(session)
    for held, fresh, _items, fields, _before in changes:
        values: dict[str, Any] = {}
        number = held.id
        for name, columns in _columns(fresh.row, batch).items():
            if name in fields:
                values.update(columns)
        columns = {name: getattr(held, name) for name in values}
        batch.people_before[number] = {"columns": columns, "after": after, "gone": {}}
        values["version"] = tables.Person.version + 1
        session.execute(
            update(table_of(tables.Person)).where(tables.Person.id == number).values(**values)
        )
        batch.lost += _losses(held, fresh, fields)
        if columns.get("nhs_number") and columns["nhs_number"] != values["nhs_number"]:
            batch.lost.append(Loss(fresh.key, "NHS number that would go"))
        told = sorted(name.partition("/")[0] for name in fields)
        was = batch.people_before[number]
        batch.note("changed", "person", number, number, was, ref=fresh.key, fields=told)
        batch.rewritten.add(number)
        if fields & PLANS_BY or any(name.startswith("risk/") for name in fields):
            batch.to_plan.add(number)
        if fields & TELLS_APART or any(name.startswith("own_address/") for name in fields):
            batch.named.add(number)
    told_items = [
        Told(p.id, f.key, items, {name: before[name] for name in fields & before.keys()}, fields)
        for p, f, items, fields, before in changes
    ]
    bring_up_to_date(session, batch, told_items)
    rekey(session, [held.id for held, *_ in changes])
    batch.changed += len(changes)


def _about(session: Session, page: Sequence[Fresh[PersonRow]]) -> set[int]:
    """Return whoever of a page is in the register."""
    c = tables.Person
    wanted = select(c.id).where(c.ref.in_(REFS))
    return set(session.scalars(wanted, given(fresh.key for fresh in page)))


def _check(_session: Session, _page: Sequence[Fresh[PersonRow]]) -> Refused[PersonRow]:
    """Say that nobody new is known to be wrong."""
    return ()


def _born(session: Session, keys: Sequence[str]) -> dict[str, date]:
    c = tables.Person
    return dict(many(session, select(c.ref, c.born).where(c.ref.in_(REFS)), keys))


IMPORTER = Importer(
    KIND,
    read_people,
    lambda: lambda row: row.reference,
    write,
    about=_about,
    check=_check,
    known_days=_born,
    dated="born",
)
