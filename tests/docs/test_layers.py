"""The rooms and the arrows between them: who may import whom, and what an import costs."""

import ast
import json
import subprocess
import sys
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LEVEL = {
    "care": 0,
    "protocol": 1,
    "schedule": 2,
    "loop": 2,
    "cycle": 2,
    "accounts": 2,
    "ahead": 2,
    "manual": 3,
    "records": 3,
    "letters": 3,
    "exchange": 3,
    "desk": 4,
    "cli": 5,
    "jobs": 5,
    "tui": 5,
}
"""Rooms import rooms of their own level or below, never above."""
DESK = (
    "core",
    "signing",
    "visits",
    "worklists",
    "contacts",
    "referrals",
    "plans",
    "people",
    "post",
    "imports",
    "practice",
    "oversight",
)
"""The rooms of the desk, lowest first: each imports itself and those before it."""
RECORDS = ("tables", "database", "journal", "facts", "people", "ledger")
"""The rooms of the records, lowest first."""
SCREENS = (
    "words",
    "ears",
    "commands",
    "register",
    "widgets",
    "dialogs",
    "start",
    "visits",
    "calls",
    "manager",
    "people",
    "appointments",
    "post",
    "screens",
    "styles",
    "app",
)
"""The rooms of the screens, lowest first; the app on top of them is one module."""
INSIDE = (("recall/desk", DESK), ("recall/records", RECORDS), ("tui", SCREENS))
PURE = [room for room, level in LEVEL.items() if level < 3]
SINGLE = {"errors": set(LEVEL), "config": {r for r, n in LEVEL.items() if n >= 3}}
SINGLE["capacity"] = {"config", "sites"}
SINGLE["sites"] = {"config"}
SINGLE["server_address"] = {"config", "desk"}
"""Parts of the configuration, which are read through it."""
SINGLE["output"] = {"protocol"} | {r for r, n in LEVEL.items() if n >= 3}
SINGLE["clock"] = {"desk", "cli", "jobs", "tui"}
"""Modules beside the rooms, and who may import them."""
PURE_LIBRARIES = {"dateutil", "six", "msgspec", "typing_extensions"}
"""The two that the pure rooms use, and what these two bring along."""
READS_THE_CLOCK = {("date", "today"), ("datetime", "now"), ("datetime", "today")}
READS_THE_CLOCK |= {("datetime", "utcnow"), ("time", "time"), ("time", "localtime")}


def modules_of(room: str) -> list[Path]:
    """Return the files of a room."""
    folder = ROOT / room if room == "tui" else ROOT / "recall" / room
    return sorted(folder.rglob("*.py"))


def dotted(file: Path) -> str:
    """Return the name under which a file is imported."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(file: Path) -> Iterator[str]:
    """Yield every name that a file imports, inside functions too."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{dotted(file)} imports relatively; write the whole name"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room_of(name: str) -> str | None:
    """Return the room, or the single module, that an imported name belongs to."""
    first, _, rest = name.partition(".")
    if first == "tui":
        return "tui"
    return rest.partition(".")[0] or None if first == "recall" else None


def loaded_by(*names: str) -> set[str]:
    """Return the top-level modules that a fresh Python has loaded after importing `names`."""
    code = (
        "import sys, json, importlib; before = set(sys.modules);"
        f"[importlib.import_module(n) for n in {names!r}];"
        "print(json.dumps(sorted({m.partition('.')[0] for m in set(sys.modules) - before})))"
    )
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    return set(json.loads(ran.stdout))


@pytest.mark.parametrize("room", LEVEL)
def test_arrows_between_rooms_point_one_way(room: str) -> None:
    wrong = []
    for file in modules_of(room):
        for name in imported(file):
            other = room_of(name)
            if other in LEVEL and LEVEL[other] > LEVEL[room]:
                wrong.append(f"{dotted(file)} imports {name}")
            if other in SINGLE and room not in SINGLE[other]:
                wrong.append(f"{dotted(file)} imports {name}")
    assert wrong == []


@pytest.mark.parametrize(("folder", "rooms"), INSIDE)
def test_no_arrow_points_up_inside(folder: str, rooms: tuple[str, ...]) -> None:
    start = f"{folder.replace('/', '.')}."
    wrong = []
    for file in (ROOT / folder).rglob("*.py"):
        own = dotted(file).removeprefix(start).partition(".")[0]
        for name in imported(file):
            other = name.removeprefix(start).partition(".")[0]
            if name.startswith(start) and rooms.index(other) > rooms.index(own):
                wrong.append(f"{dotted(file)} imports {name}")
    assert wrong == []


def test_the_rooms_are_what_the_lists_here_say() -> None:
    for folder, rooms in INSIDE:
        files = list((ROOT / folder).glob("*.py"))
        found = {f.parent.name for f in (ROOT / folder).glob("*/*.py")}
        assert found | {f.stem for f in files} - {"__init__"} == set(rooms)


def module_graph() -> dict[str, set[str]]:
    """Return which module of ours imports which, wherever in the file it does so."""
    files = [f for folder in ("recall", "tui") for f in (ROOT / folder).rglob("*.py")]
    names = {dotted(file) for file in files}
    graph: dict[str, set[str]] = {}
    for file in files:
        found = {n if n in names else n.rpartition(".")[0] for n in imported(file)}
        graph[dotted(file)] = (found & names) - {dotted(file)}
    return graph


def test_no_circle_of_imports_anywhere() -> None:
    """Also none that only the types need, or that hides inside a function."""
    try:
        TopologicalSorter(module_graph()).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


@pytest.mark.parametrize("room", PURE)
def test_pure_rooms_load_only_the_standard_library_and_value_types(room: str) -> None:
    loaded = loaded_by(*(dotted(file) for file in modules_of(room)))
    allowed = set(sys.stdlib_module_names) | PURE_LIBRARIES | {"recall"}
    assert {name for name in loaded - allowed if not name.startswith("_")} == set()


def test_single_modules_import_only_the_errors() -> None:
    for name in SINGLE:
        rooms = {room_of(each) for each in imported(ROOT / "recall" / f"{name}.py")}
        parts = {
            "config": {"capacity", "reading", "server_address", "sites"},
            "sites": {"capacity"},
        }
        assert rooms - {None, "errors"} == parts.get(name, set()), name


def test_the_screens_never_import_the_records() -> None:
    reached = {name for file in modules_of("tui") for name in imported(file)}
    assert {n for n in reached if room_of(n) == "records" or n.startswith("sqlalchemy")} == set()


def test_the_command_line_starts_without_what_it_seldom_needs() -> None:
    heavy = {"textual", "alembic", "typst", "apscheduler", "holidays", "phonenumbers"}
    assert loaded_by("recall.cli.main") & heavy == set()


def test_the_first_counts_wait_for_neither_the_library_of_sql_nor_rules() -> None:
    """All that stands between `recall desk` and what it shows first."""
    code = (
        "import sys, recall.cli.practice.desk, recall.desk.core.opening, recall.desk.core.proof,"
        "recall.desk.core.staff_row, recall.desk.oversight.glance, tui.app, tui.screens.start;"
        "print(*sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    loaded = set(ran.stdout.split())
    assert "recall.records.facts.first_counts" in loaded, ran.stderr
    heavy = {"sqlalchemy", "recall.protocol.loading", "recall.desk.core.session"}
    assert loaded & heavy == set()


def test_only_the_clock_asks_what_time_it_is() -> None:
    asked = []
    for file in (*(ROOT / "recall").rglob("*.py"), *modules_of("tui")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                on = ast.unparse(node.func.value).rpartition(".")[2]
                if (on, node.func.attr) in READS_THE_CLOCK and file.name != "clock.py":
                    asked.append(f"{dotted(file)}:{node.lineno}")
    assert asked == []


def test_only_one_module_writes_files() -> None:
    """Beside the database, which the records make, and the place for what went wrong."""
    writing = []
    for file in (*(ROOT / "recall").rglob("*.py"), *modules_of("tui")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = ast.unparse(node.func).rpartition(".")[2]
            modes = [a.value for a in node.args if isinstance(a, ast.Constant)]
            opened = name in ("open", "fdopen") and any(m in ("w", "wb", "x", "a") for m in modes)
            if name in ("write_text", "write_bytes") or opened:
                writing.append(dotted(file))
    assert sorted(set(writing)) == ["recall.cli.main", "recall.output", "tui.register.trouble"]


def test_only_the_desk_and_the_records_open_transactions() -> None:
    reached = [
        f"{dotted(file)} imports {name}"
        for room in ("cli", "jobs", "letters", "exchange")
        for file in modules_of(room)
        for name in imported(file)
        if name.startswith("sqlalchemy")
    ]
    assert reached == []


def test_migrations_stand_alone() -> None:
    """A revision must do the same for ever, whatever becomes of the tables in the code."""
    revisions = sorted((ROOT / "migrations" / "versions").glob("*.py"))
    assert revisions
    used = [f"{f.name}: {n}" for f in revisions for n in imported(f) if n.startswith("recall")]
    assert used == []
