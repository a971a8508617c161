"""What a database server says is told in words, and nothing is claimed that nobody can know.

Source of the codes: PostgreSQL 15, "PostgreSQL Error Codes"; what is said at the door was read from
a server of that version and from libpq.
"""

from __future__ import annotations

import psycopg
import pytest
from psycopg import errors
from sqlalchemy.exc import DBAPIError, OperationalError, ProgrammingError

from recall.records.database.server_errors import storage_error

CODES = {
    "55P03": "locked by another desk or job",
    "40001": "locked by another desk or job",
    "53100": "disk of the database server is full",
    "53300": "no room for another desk",
    "25006": "may not be written",
    "25P03": "let go of this desk",
    "42501": "may not be used by this account",
    "XX001": "is damaged",
    "57014": "broke off what took too long",
    "57P01": "was stopped meanwhile",
    "57P03": "is starting or stopping",
    "42P01": "does not have the tables",
}
HERE = 'connection failed: connection to server at "127.0.0.1", port 5432 failed: '
DOOR = {
    HERE + "Connection refused\n\tIs the server running?": "cannot be reached: Connection refused.",
    HERE + 'FATAL:  password authentication failed for user "x"': "does not take this name",
    HERE + "fe_sendauth: no password supplied": "asks for a password",
    HERE + 'FATAL:  database "x" does not exist': "no database of this name",
    HERE + 'FATAL:  role "x" does not exist': "does not know this name",
    HERE + "FATAL:  the database system is starting up": "is starting or stopping",
    HERE + 'FATAL:  too many connections for role "x"': "no room for another desk",
    HERE + "server does not support SSL, but SSL was required": "would not be a safe one",
    "failed to resolve host 'x': [Errno -2] Name or service not known": "cannot be reached: failed",
}


@pytest.mark.parametrize("code", CODES)
def test_each_code_is_said(code: str) -> None:
    told = storage_error(DBAPIError("", {}, errors.lookup(code)("...")))

    assert told is not None and CODES[code] in told.message and told.hint


@pytest.mark.parametrize("said", DOOR)
def test_whoever_is_not_let_in_is_told_why(said: str) -> None:
    told = storage_error(OperationalError("", {}, psycopg.OperationalError(said)))

    assert told is not None and DOOR[said] in told.message and told.hint
    assert not told.message.endswith(("..", "?."))


@pytest.mark.parametrize(
    "said",
    [
        "server closed the connection unexpectedly",
        "the connection is lost",
        "consuming input failed",
    ],
)
def test_whoever_was_writing_as_it_broke_off_is_asked_to_look(said: str) -> None:
    told = storage_error(OperationalError("", {}, psycopg.OperationalError(said)))

    assert told is not None and "Nothing was changed" not in told.hint
    assert "look whether the last thing that you did is there" in told.hint


def test_a_mistake_in_the_program_is_none_of_the_servers() -> None:
    assert storage_error(ProgrammingError("", {}, errors.lookup("42601")("..."))) is None
