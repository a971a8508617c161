"""Where everybody signs in: no command shows or writes anything of anybody without it.

The commands are those of the program's own tree; only which of them need nobody stands here.
"""

from __future__ import annotations

import os
import pty
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click
import pytest
from sqlalchemy import update

from recall.cli.main import COMMANDS, main, recall
from recall.cli.shared.signed import keep_token
from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import staff_member
from recall.desk.signing import hashing, passwords, sessions
from recall.desk.signing.accounts import account_now
from recall.errors import InputError, Refused
from recall.protocol import loading
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.tables.statements import table_of
from tests.cli.test_commands import CONFIG
from tests.desk.files import PERSON, VISIT, write

Typed = Callable[..., tuple[int, str, str]]
GOOD = "four walnuts under snow"
NEEDS_NOBODY = {
    "set-up": "makes the register",
    "upgrade": "brings an older register up, which knows no sessions",
    "plan": "works out a case file without a register",
    "manual": "is a book",
    "encryption enter": "opens a register that nothing else opens",
    "sign-in": "is how one signs in",
    "sign-out": "ends a session",
    "staff password": "asks for the old password or a code itself",
    "staff code": "lets the owner of the file ask, who gets it another day",
    "desk": "asks on its first screen",
    "jobs serve": "runs until stopped; each run needs the jobs' account",
    "jobs run": "needs the jobs' account",
    "protocol show": "prints rules, which name nobody",
    "protocol check": "checks rules",
    "protocol format": "is a book",
    "contact outcomes": "lists words",
    "letters check": "tries the wording on an invented letter",
}
"""Reviewed by hand, each with its reason."""
ALSO = {"staff account": ("--none",), "import": ("people", "people.csv")}
"""What a command wants beside what it says that it needs."""


def leaves(
    command: click.Command, path: tuple[str, ...] = ()
) -> Iterator[tuple[str, click.Command]]:
    """Yield every command of the tree that does something, by the words that call it."""
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None
            yield from leaves(found, (*path, name))
    else:
        yield " ".join(path), command


LEAVES = dict(leaves(recall))


def given(name: str, folder: Path) -> list[str]:
    """Something for everything that a command asks for."""
    words: list[str] = list(ALSO.get(name, ()))
    for each in LEAVES[name].params:
        if not each.required:
            continue
        if isinstance(each, click.Option) and each.is_flag:
            words.append(each.opts[0])
            continue
        value = sample(each.type, folder, each.name or "")
        words += [value] if isinstance(each, click.Argument) else [each.opts[0], value]
    return words


def sample(kind: click.ParamType[Any], folder: Path, name: str) -> str:
    if isinstance(kind, click.Choice):
        return str(next(iter(kind.choices)))
    if isinstance(kind, click.Path):
        return str(folder / ("people.csv" if "csv" in name else "protocol.toml"))
    if isinstance(kind, click.types.FuncParamType):
        return "2026-09-01T10:00"
    if kind is click.INT or "int" in kind.name:
        return "1"
    if "day" in kind.name or "date" in kind.name:
        return "2026-09-01"
    return "2026-09-01" if name in ("at", "when", "documented", "day") else "P1"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A practice with people in it, in which everybody signs in."""
    folder = tmp_path_factory.mktemp("made")
    (folder / "recall.toml").write_text(CONFIG, "utf-8")
    config = ("--config", str(folder / "recall.toml"))
    main(["set-up", "--clinician", "quill", "--name", "A. Quill", *config])
    for handle, role in (("rob", "reception"), ("mina", "manager")):
        words = ["staff", "add", handle, "--name", f"{handle.title()} Tanner", "--role", role]
        main([*words, "--by", "quill", *config])
    write(folder / "people.csv", PERSON)
    write(folder / "visits.csv", VISIT)
    for name in ("people", "visits"):
        words = ["import", name, str(folder / f"{name}.csv"), "--yes", "--by", "rob"]
        assert main([*words, *config]) == 0
    source = Path(loading.__file__).with_name("default.toml")
    (folder / "protocol.toml").write_bytes(source.read_bytes())
    (folder / "recall.toml").write_text(CONFIG + "\n[desk]\nsign_in = true\n", "utf-8")
    return folder


@pytest.fixture
def typed(
    made: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Typed:
    """Type a command in a copy of the practice; get its status, data and messages."""
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "states"))

    def run(*words: str) -> tuple[int, str, str]:
        status = main(list(words))
        captured = capfd.readouterr()
        return status, captured.out, captured.err

    return run


@pytest.fixture
def register(typed: Typed, tmp_path: Path) -> Iterator[Store]:
    """The same practice's register, open."""
    store = open_store(load(tmp_path / "recall.toml").files.database)
    yield store
    store.close()


def give(store: Store, *handles: str) -> None:
    """Let some have a password."""
    kept = hashing.hashed(GOOD)
    for handle in handles:
        member = staff_member(store, handle, datetime.now(UTC).date())
        passwords._keep(store, Clock(), member, kept, member.id)


def signed_in(store: Store, folder: Path, handle: str) -> None:
    """Let somebody be signed in, without the terminal that the password is typed at."""
    member = staff_member(store, handle, datetime.now(UTC).date())
    keep_token(load(folder / "recall.toml"), sessions.begin(store, Clock(), member))


def test_what_needs_nobody_is_there_and_asks_for_nobody() -> None:
    assert NEEDS_NOBODY.keys() <= LEAVES.keys()
    assert {name.split()[0] for name in LEAVES} == set(COMMANDS)
    assert len(LEAVES) > 100


@pytest.mark.parametrize("name", sorted(LEAVES.keys() - NEEDS_NOBODY.keys()))
def test_a_command_shows_and_writes_nothing_without_somebody_signed_in(
    typed: Typed, tmp_path: Path, name: str
) -> None:
    database = tmp_path / "recall.db"
    before = database.read_bytes()
    status, out, err = typed(*name.split(), *given(name, tmp_path))
    assert (status, out) == (Refused.exit_code, ""), err
    assert err == "Nobody is signed in. Sign in first: recall sign-in HANDLE.\n"
    assert database.read_bytes() == before


def test_a_session_is_of_one_account_and_of_limited_life(
    typed: Typed, register: Store, tmp_path: Path
) -> None:
    give(register, "rob")
    signed_in(register, tmp_path, "rob")
    (file,) = (tmp_path / "states" / "ear-recall").iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert file.read_text() not in (tmp_path / "recall.db").read_bytes().decode("latin-1")
    assert "P1" in typed("find", "P1")[1]
    s = table_of(tables.SignedIn)
    for field, gone in (("seen_at", timedelta(minutes=61)), ("began_at", timedelta(hours=25))):
        with register.write() as session:
            session.execute(update(s).values(**{field: datetime.now(UTC) - gone}))
        status, out, err = typed("find", "P1")
        assert (status, out) == (Refused.exit_code, "")
        assert err == "Your session has ended. Sign in first: recall sign-in HANDLE.\n"
        with register.write() as session:
            session.execute(update(s).values(**{field: datetime.now(UTC)}))
        assert typed("find", "P1")[0] == 0
    file.chmod(0o644)
    assert "Others can read" in typed("find", "P1")[2]
    file.chmod(0o600)
    assert typed("sign-out")[2] == "Signed out.\n"
    assert typed("find", "P1")[0] == Refused.exit_code
    assert typed("sign-out")[2] == "Nobody was signed in.\n"


def test_nobody_acts_as_somebody_else(typed: Typed, register: Store, tmp_path: Path) -> None:
    give(register, "rob", "quill")
    signed_in(register, tmp_path, "rob")
    status, out, err = typed("find", "P1", "--by", "quill")
    assert (status, out) == (Refused.exit_code, "")
    assert err.startswith("rob is signed in, and quill is not.") and err.count("\n") == 1
    assert typed("find", "P1", "--by", "ROB")[0] == 0
    status, _, err = typed("confirm", "P1")
    assert status == Refused.exit_code and "rob (reception) may not" in err
    new = ("staff", "add", "wyn", "--name", "Wyn", "--role", "practitioner")
    assert "quill is not" in typed(*new, "--by", "quill")[2]
    assert "rob (reception) may not" in typed(*new)[2]
    assert "rob (reception) may not" in typed("protocol", "sign")[2]


def test_another_configuration_does_not_get_round_it(
    typed: Typed, register: Store, tmp_path: Path
) -> None:
    give(register, "rob")
    (tmp_path / "mine.toml").write_text(CONFIG, "utf-8")
    status, out, _ = typed("find", "P1", "--by", "quill", "--config", "mine.toml")
    assert (status, out) == (Refused.exit_code, "")


def test_an_account_of_the_system_is_who_it_was_bound_to(
    typed: Typed, register: Store, tmp_path: Path
) -> None:
    give(register, "mina")
    signed_in(register, tmp_path, "mina")
    assert typed("staff", "account", "quill", account_now())[0] == Refused.exit_code
    assert typed("staff", "account", "rob", account_now())[0] == 0
    assert typed("staff", "account", "mina", account_now())[0] == InputError.exit_code
    typed("sign-out")
    assert typed("find", "P1")[0] == 0
    assert typed("find", "P1", "--by", "mina")[0] == Refused.exit_code
    signed_in(register, tmp_path, "mina")
    assert typed("find", "P1", "--by", "mina")[0] == 0, "who signed in comes before the account"
    assert typed("staff", "account", "rob", "--none")[0] == 0
    typed("sign-out")
    assert typed("find", "P1")[0] == Refused.exit_code


def test_the_jobs_run_by_the_account_that_is_theirs(
    typed: Typed, register: Store, tmp_path: Path
) -> None:
    give(register, "mina")
    status, _, err = typed("jobs", "run", "nightly")
    assert status == Refused.exit_code and "is not the jobs'" in err
    signed_in(register, tmp_path, "mina")
    assert typed("jobs", "run", "nightly")[0] == Refused.exit_code, "a person is not the jobs"
    assert typed("staff", "account", "jobs", account_now())[0] == 0
    typed("sign-out")
    status, _, err = typed("jobs", "run", "nightly")
    assert status == 0, err
    assert typed("find", "P1")[0] == Refused.exit_code, "nor are the jobs a person"


def test_a_look_is_written_down_once_and_told_on_request(
    typed: Typed, register: Store, tmp_path: Path
) -> None:
    give(register, "rob", "mina")
    signed_in(register, tmp_path, "rob")
    for words in (("card",), ("story",), ("card",)):
        assert typed("person", *words, "P1")[0] == 0
    assert typed("person", "looked", "P1")[0] == Refused.exit_code
    signed_in(register, tmp_path, "mina")
    status, out, _ = typed("person", "looked", "P1")
    assert status == 0
    whose, *looks = out.splitlines()
    assert whose.endswith("P1")
    assert [line.split()[2:] for line in looks] == [
        ["rob", "Rob", "Tanner", "(reception),", "command"]
    ]


def test_a_password_is_typed_at_a_terminal_only(typed: Typed, register: Store) -> None:
    give(register, "rob")
    for words in (("sign-in", "rob"), ("staff", "password", "rob")):
        status, _, err = typed(*words)
        assert status == InputError.exit_code
        assert err.startswith("A password is typed at a terminal.")


PROGRAM = "import sys; from recall.cli.main import main; sys.exit(main())"


def at_terminal(folder: Path, words: list[str], answers: list[str]) -> tuple[int, str]:
    """Run a command in a process of its own at a terminal, and answer what it asks."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(folder)
        os.environ["XDG_STATE_HOME"] = str(folder / "states")
        os.execv(sys.executable, [sys.executable, "-c", PROGRAM, *words])
    shown = b""
    for answer in answers:
        asked = len(shown)
        while b": " not in shown[asked:]:
            shown += os.read(terminal, 1024)
        os.write(terminal, f"{answer}\n".encode())
    while True:
        try:
            more = os.read(terminal, 1024)
        except OSError:  # the other end is closed
            break
        if not more:
            break
        shown += more
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), shown.decode()


def test_the_way_of_a_practice_from_the_first_password_on(made: Path, tmp_path: Path) -> None:
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    other = "a brass kettle by the river"

    def at(words: str, *answers: str) -> tuple[int, str]:
        return at_terminal(tmp_path, words.split(), list(answers))

    assert at("staff password quill", GOOD, "something else again")[0] == InputError.exit_code
    status, shown = at("staff password quill", GOOD, GOOD)
    assert status == 0 and GOOD not in shown, "never shown"
    assert "From now on everybody signs in" in shown
    assert at("sign-in quill", "wrong and wrong again")[0] == Refused.exit_code
    assert at("find P1")[0] == Refused.exit_code
    assert at("sign-in quill", GOOD)[0] == 0
    assert "P1" in at("find P1")[1]
    code = at("staff code rob")[1].split()[0]
    assert len(code) == 23
    assert at("staff password rob", code, other, other)[0] == 0
    assert at("sign-in rob", other)[0] == 0
    assert "rob is signed in" in at("find P1 --by quill")[1]
    assert at("sign-out")[0] == 0
