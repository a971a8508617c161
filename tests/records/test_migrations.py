"""Building, upgrading and stepping back lose no row, and end where the tables say."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, Inspector, inspect, select, text

from recall.errors import StorageError
from recall.records.database import where
from recall.records.database.engine import migration_engine
from recall.records.database.stepping import alembic_config
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import move, upgrade
from recall.records.tables import Base, Person, PersonRisk
from tests.conftest import NOW


def add_person(store: Store) -> None:
    """One person with a risk, so that a rebuilt table would show a lost child row."""
    with store.write() as session:
        person = Person(
            ref="W1",
            family_name="Marsh",
            born=date(1950, 2, 28),
            on=date(2026, 9, 1),
            recorded_at=NOW,
            by_id=1,
        )
        session.add(person)
        session.flush()
        risk = PersonRisk(
            person_id=person.id, what="diabetes", on=date(2026, 9, 1), recorded_at=NOW, by_id=1
        )
        session.add(risk)


Row = dict[str, object]
REWORDED = {("staff", "role")}
"""Columns whose words another revision had otherwise."""
NEVER_WRITTEN = {"incident"}
"""Tables of earlier revisions into which no version of the program wrote; matters took over."""
DRAWN = "register"
"""The table whose one row is drawn anew where a step down has dropped it."""
RENAMED = {"reach": "contact_point", "reach_id": "contact_point_id"}
"""Tables and columns by the names they had before."""


def test_a_register_is_its_owners_alone_and_nothing_is_taken_from_a_group(tmp_path: Path) -> None:
    path = tmp_path / "practice" / "recall.db"
    upgrade(path, at=NOW)
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700
    path.chmod(0o664)
    upgrade(path, at=NOW)
    assert path.stat().st_mode & 0o777 == 0o660


def contents(path: Path) -> dict[str, list[Row]]:
    """All rows of all tables that exist."""
    engine = migration_engine(path)
    with engine.connect() as connection:
        names = inspect(connection).get_table_names()
        rows = {
            n: [dict(r) for r in connection.execute(text(f'SELECT * FROM "{n}"')).mappings()]
            for n in sorted(names)
        }
    engine.dispose()
    return rows


def test_a_fresh_database_is_at_the_head(tmp_path: Path) -> None:
    done = upgrade(tmp_path / "new" / "register.db", at=NOW)

    assert (done.was, done.now, done.backup) == (None, where.HEAD, None)


def test_the_listed_revisions_are_those_in_the_folder() -> None:
    scripts = ScriptDirectory.from_config(alembic_config()).walk_revisions()

    assert tuple(reversed([s.revision for s in scripts])) == where.REVISIONS


def test_alembic_sees_no_difference_between_tables_and_migrations(register_path: Path) -> None:
    engine = migration_engine(register_path)
    with engine.execution_options(write=True).connect() as connection, connection.begin():
        command.check(alembic_config(connection))
    engine.dispose()


def test_the_migrations_make_exactly_what_the_tables_say(register_path: Path, tmp_path: Path):
    """Compared by the database's own account: columns, keys, indexes, and CHECKs by text."""
    straight = tmp_path / "straight.db"
    engine = migration_engine(straight)
    with engine.execution_options(write=True).begin() as connection:
        Base.metadata.create_all(connection)
    engine.dispose()

    assert shape(register_path) == shape(straight)


def shape(path: Path) -> dict[str, object]:
    engine = migration_engine(path)
    with engine.connect() as connection:
        found = described(inspect(connection))
    engine.dispose()
    return found


def described(look: Inspector) -> dict[str, object]:
    found: dict[str, object] = {}
    for name in sorted(set(look.get_table_names()) - {"alembic_version"}):
        found[name] = {
            "columns": {c["name"]: (str(c["type"]), c["nullable"]) for c in look.get_columns(name)},
            "pk": look.get_pk_constraint(name),
            "fk": sorted(look.get_foreign_keys(name), key=lambda f: str(f["name"])),
            "unique": sorted(look.get_unique_constraints(name), key=lambda u: str(u["name"])),
            "check": sorted(look.get_check_constraints(name), key=lambda c: str(c["name"])),
            "index": sorted(
                (i["name"], i["column_names"], i["unique"], partial(i))
                for i in look.get_indexes(name)
            ),
        }
    return found


def partial(index: dict[str, object]) -> list[str]:
    return [f"{k} {v}" for k, v in sorted(index["dialect_options"].items())]


def test_every_constraint_has_a_name() -> None:
    unnamed = [
        (table.name, type(constraint).__name__)
        for table in Base.metadata.tables.values()
        for constraint in table.constraints
        if constraint.name is None
        and (isinstance(constraint, CheckConstraint) or not Base.metadata.naming_convention)
    ]

    assert unnamed == []


def test_nothing_cascades() -> None:
    rules = {fk.ondelete for t in Base.metadata.tables.values() for fk in t.foreign_keys}

    assert rules == {"RESTRICT"}


@pytest.fixture(scope="module")
def stepped_down(empty_register: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A register at each revision, stepped down one after the other."""
    folder, found = tmp_path_factory.mktemp("revisions"), dict[str, Path]()
    last = empty_register
    for revision in reversed(where.REVISIONS):
        found[revision] = folder / f"{revision}.db"
        shutil.copyfile(last, found[revision])
        if revision == where.HEAD:
            store = open_store(found[revision])
            add_person(store)
            store.close()
        else:
            move(found[revision], revision)
        last = found[revision]
    return found


@pytest.mark.parametrize("to", where.REVISIONS[:-1])
def test_a_step_down_and_up_keeps_every_row_that_its_tables_hold(
    stepped_down: dict[str, Path], tmp_path: Path, to: str
) -> None:
    before, down = contents(stepped_down[where.HEAD]), contents(stepped_down[to])
    register_path = tmp_path / "register.db"
    shutil.copyfile(stepped_down[to], register_path)

    upgrade(register_path, at=NOW)

    for name, rows in renamed(down).items():
        if name in NEVER_WRITTEN:
            assert rows == []
            continue
        assert shared(name, rows, before[name]) == shared(name, before[name], rows)
    after = contents(register_path)
    assert [len(rows.pop(DRAWN)) for rows in (before, after)] == [1, 1]
    assert after == before


def renamed(held: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """Return an older register's contents under the names of now."""
    return {
        RENAMED.get(name, name): [{RENAMED.get(c, c): v for c, v in row.items()} for row in rows]
        for name, rows in held.items()
        if name != "alembic_version"
    }


def shared(name: str, rows: list[Row], others: list[Row]) -> list[Row]:
    """Return the rows with the columns that both revisions have in the same words."""
    columns = {c for other in others for c in other if (name, c) not in REWORDED}
    return [{c: v for c, v in row.items() if c in columns} for row in rows]


def test_an_upgrade_makes_a_backup_of_what_was(store: Store, register_path: Path) -> None:
    add_person(store)
    store.close()
    move(register_path, where.REVISIONS[-2])

    done = upgrade(register_path, register_path.parent / "kept", at=NOW)

    assert done.backup is not None
    was, now = contents(done.backup)["person"], contents(register_path)["person"]
    assert shared("person", was, now) == shared("person", now, was) != []
    assert contents(done.backup)["alembic_version"] == [{"version_num": where.REVISIONS[-2]}]


def test_a_failed_upgrade_leaves_nothing_behind(
    register_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A next migration that makes a table, loses rows, and then breaks."""
    before = contents(register_path)
    with_a_broken_one(tmp_path, monkeypatch, 'raise RuntimeError("broken")')

    with pytest.raises(RuntimeError, match="broken"):
        upgrade(register_path, at=NOW)

    assert contents(register_path) == before


def test_an_upgrade_that_breaks_a_link_is_refused(
    store: Store, register_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_person(store)
    store.close()
    before = contents(register_path)
    with_a_broken_one(tmp_path, monkeypatch, 'op.execute("DELETE FROM person")')

    with pytest.raises(StorageError, match=r"point to nothing \([a-z_]+ \d+(, [a-z_]+ \d+)*\)"):
        upgrade(register_path, at=NOW)

    assert contents(register_path) == before


def test_rebuilding_a_table_keeps_the_rows_that_point_to_it(
    store: Store, register_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Batch mode drops and remakes a table; with foreign keys on that empties its children."""
    add_person(store)
    store.close()
    with_a_broken_one(
        tmp_path,
        monkeypatch,
        'with op.batch_alter_table("person", recreate="always") as b:\n'
        '        b.add_column(sa.Column("shoe_size", sa.Integer()))',
    )

    upgrade(register_path, at=NOW)

    after = contents(register_path)
    assert (len(after["person"]), len(after["person_risk"])) == (1, 1)


def with_a_broken_one(folder: Path, monkeypatch: pytest.MonkeyPatch, does: str) -> None:
    """Use a copy of the migrations with one more on top."""
    copy = folder / "migrations"
    shutil.copytree(where.migrations(), copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "versions" / "9999_next.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f'revision = "9999"\ndown_revision = "{where.HEAD}"\n'
        "def upgrade():\n"
        '    op.create_table("extra", sa.Column("id", sa.Integer(), primary_key=True))\n'
        f"    {does}\n"
    )
    monkeypatch.setattr(where, "migrations", lambda: copy)
    monkeypatch.setattr(where, "REVISIONS", (*where.REVISIONS, "9999"))
    monkeypatch.setattr(where, "HEAD", "9999")


def test_an_older_database_says_which_command_upgrades_it(register_path: Path) -> None:
    move(register_path, where.REVISIONS[-2])

    with pytest.raises(StorageError, match=where.UPGRADE_COMMAND):
        open_store(register_path)


def test_a_newer_database_can_be_read_and_refuses_to_be_written(register_path: Path) -> None:
    engine = migration_engine(register_path)
    with engine.execution_options(write=True).begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    store = open_store(register_path)

    with store.read() as session:
        assert session.scalars(select(Person)).all() == []
    with pytest.raises(StorageError, match="newer version"), store.write():
        pass
    with pytest.raises(StorageError, match="newer than this program"):
        upgrade(register_path, at=NOW)
    store.close()


def test_two_upgrades_at_once_leave_one_database(tmp_path: Path) -> None:
    path = tmp_path / "register.db"
    move(path, where.REVISIONS[0])

    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(lambda _: move(path, where.HEAD), range(2)))

    assert done == [None, None]
    assert contents(path)["alembic_version"] == [{"version_num": where.HEAD}]
