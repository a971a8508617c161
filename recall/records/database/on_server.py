"""A register on a PostgreSQL server: its engine and its write turn.

Promise: the same as of a file. Whoever writes first takes the one write lock of the register and
holds it until the transaction ends, so nothing that it read can have changed when it commits; who
reads sees one state from the first statement to the last. (PostgreSQL: "Advisory Locks", 13.3.5;
"Transaction Isolation", 13.2: a transaction that waited for the lock must see what was committed
meanwhile, so it reads committed rows; there is no other writer that could change them.)
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import NoSuchModuleError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.pool import NullPool, Pool, QueuePool
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from recall.errors import ConfigError, StorageError
from recall.records.database.servers import EXTRA
from recall.records.tables.listed import Numbers, Refs

WRITE_LOCK = 7_310_641_930
"""The number of the write lock: any, as long as every program that writes takes the same."""
_FORGOTTEN_MS = 600_000
"""After how long the server ends a transaction in which nothing happens: its desk is gone."""
_LEAST = 130000
"""The oldest server, by the number it gives itself."""
_ORDERS = ("C", "POSIX", "C.UTF-8", "C.utf8")
"""Collations that put texts in the order of their characters, as a file does."""

_FOLLOW = """
DO $$
DECLARE name text;
BEGIN
  FOR name IN
    SELECT owner.relname FROM pg_class AS numbers
    JOIN pg_depend AS link ON link.objid = numbers.oid AND link.deptype IN ('a', 'i')
    JOIN pg_class AS owner ON owner.oid = link.refobjid
    WHERE numbers.relkind = 'S' AND owner.relnamespace = to_regnamespace('public')
  LOOP
    EXECUTE format(
      'SELECT setval(pg_get_serial_sequence(%L, ''id''), coalesce(max(id), 0) + 1, false) FROM %I',
      name, name);
  END LOOP;
END $$
"""
"""Sets what numbers the rows of each table to go on after its last row."""


def _make(address: str, pool: type[Pool], wait_ms: int) -> Engine:
    try:
        # Values stay out of messages and logs: they name people.
        engine = create_engine(
            address,
            poolclass=pool,
            pool_pre_ping=pool is QueuePool,
            isolation_level="REPEATABLE READ",
            hide_parameters=True,
            connect_args={"client_encoding": "utf8"},
        )
    except ModuleNotFoundError:
        raise ConfigError("What speaks to PostgreSQL is not installed.", hint=EXTRA) from None
    except (NoSuchModuleError, ValueError):
        raise ConfigError("`database` is no address of a PostgreSQL database.") from None

    @event.listens_for(engine, "connect")
    def on_connect(dbapi: Any, _record: object) -> None:
        dbapi.autocommit = True
        dbapi.execute(f"SET lock_timeout = {wait_ms}")
        dbapi.execute(f"SET idle_in_transaction_session_timeout = {_FORGOTTEN_MS}")
        dbapi.autocommit = False

    @event.listens_for(engine, "begin")
    def on_begin(connection: Connection) -> None:
        if connection.get_execution_options().get("write"):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITE_LOCK})")

    return engine


def desk_engine(address: str, busy_ms: int) -> Engine:
    """Return the engine that desks, commands and jobs share."""
    return _make(address, QueuePool, busy_ms)


def migration_engine(address: str, busy_ms: int) -> Engine:
    """Return the engine of the migrations: no pool, and a longer wait."""
    return _make(address, NullPool, busy_ms)


def refuse_unfit(connection: Connection) -> None:
    """Refuse a database in which the same question could have another answer.

    Raises:
        StorageError: an old server, another encoding, or texts in another order.
    """
    number = int(connection.exec_driver_sql("SHOW server_version_num").scalar_one())
    wanted = "SELECT datcollate, pg_encoding_to_char(encoding) FROM pg_database WHERE datname = "
    order, encoding = connection.exec_driver_sql(f"{wanted} current_database()").one()
    schema = connection.exec_driver_sql("SELECT current_schema()").scalar_one()
    if schema != "public":
        raise StorageError(
            "The account's tables would not lie in the schema public.",
            hint="Let it make tables there: GRANT CREATE ON SCHEMA public, and no search_path.",
        )
    if number < _LEAST or order not in _ORDERS or encoding != "UTF8":
        raise StorageError(
            f"The database does not suit: server {number // 10000}, order {order}, {encoding}.",
            hint="Make one on PostgreSQL 13 or newer: "
            "createdb --template=template0 --encoding=UTF8 --locale=C.UTF-8 NAME",
        )


def number_on(connection: Connection) -> None:
    """Let each table's next row have the number after its last one, as a file does.

    The connection holds the write lock: nobody else adds a row meanwhile.
    A server gives no number twice, also none of what was taken back (PostgreSQL: "Sequence
    Manipulation Functions"): after every rehearsal of a file its runs would miss one.
    """
    connection.execute(text(_FOLLOW))


@compiles(Numbers, "postgresql")
def _numbers(element: Numbers, compiler: SQLCompiler, **how: Any) -> str:
    return _taken_apart(element, compiler, "CAST(value AS INTEGER)", how)


@compiles(Refs, "postgresql")
def _refs(element: Refs, compiler: SQLCompiler, **how: Any) -> str:
    return _taken_apart(element, compiler, "value", how)


def _taken_apart(
    element: FunctionElement[Any], compiler: SQLCompiler, value: str, how: dict[str, Any]
) -> str:
    """Return the rows of a list (PostgreSQL: "JSON Functions and Operators", table 9.49)."""
    given = compiler.process(element.clause_expr, **how)
    made = f"json_array_elements_text(CAST({given} AS JSON))"
    return f"(SELECT {value} AS value FROM {made})"
