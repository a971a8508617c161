"""Change the code of a room one step at a time, and see whether its tests notice.

Which lines each test goes through is measured once by `coverage`, and kept in `.mutation`. The
tests are loaded once; a change inside a function is put into a fork of that process, any other is
made as its module is loaded anew. The tests through it run: those that do little else than that
module first, and now and then one of those that go through most.
`equivalent.toml` lists changes that change nothing, with why.
"""

import ast
import gc
import hashlib
import importlib
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType, SimpleNamespace

import click
import pytest
from coverage import CoverageData

ROOT = Path(__file__).parents[2]
CORE = ("care", "protocol", "schedule")  # they make a plan together: the cases test all three
EDGES = ("desk", "cli", "jobs", "tui")  # the others call the desk: their tests hold it too
HELD_BY = {**dict.fromkeys(CORE, CORE), "desk": EDGES}
# Tests that change the rules themselves, or go over far too much for one change.
SWEEPS = ("test_rule_changes", "test_section_changes", "test_an_invented_finding", "test_sweep",
          "test_properties", "test_any_actions")  # fmt: skip
QUIET = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "--tb=short"]
LONGEST = [20]  # seconds of tests that one change is given
NAMES = "Lt LtE Gt GtE Eq NotEq In NotIn Is IsNot And Or Add Sub min max any all"
KINDS = [getattr(ast, name, name) for name in NAMES.split()]
OTHER = {kind: KINDS[place ^ 1] for place, kind in enumerate(KINDS)}


def but(row, place, *new):
    return [*row[:place], *new, *row[place + 1 :]]


def texts(row):
    said = ((i, getattr(node, "value", 0)) for i, node in enumerate(row))
    return [but(row, i, ast.Constant(text + "_")) for i, text in said if isinstance(text, str)]


# fmt: off
OPERATORS = {  # what a node may become, by its kind
    ast.Compare: lambda n: [
        *(ast.Compare(n.left, but(n.ops, i, OTHER[type(op)]()), n.comparators)
          for i, op in enumerate(n.ops)),
        *(ast.Compare(n.left, n.ops, sides) for sides in texts(n.comparators))],
    ast.BoolOp: lambda n: [
        ast.BoolOp(OTHER[type(n.op)](), n.values),
        *(but(n.values, i)[0] if len(n.values) == 2 else ast.BoolOp(n.op, but(n.values, i))
          for i in range(len(n.values)))],
    ast.UnaryOp: lambda n: [n.operand] * isinstance(n.op, ast.Not),
    ast.BinOp: lambda n: [
        ast.BinOp(n.left, OTHER[kind](), n.right) for kind in [type(n.op)] if kind in OTHER],
    ast.Constant: lambda n: [ast.Constant(not n.value)] if isinstance(n.value, bool) else [
        ast.Constant(n.value + k) for k in (1, -1) if isinstance(n.value, int)],
    ast.Name: lambda n: [ast.Name(OTHER[n.id], n.ctx)] if n.id in OTHER else [],
    ast.Return: lambda n: [ast.Return(ast.Constant(None))] * bool(
        n.value and ast.unparse(n.value) != "None"),
    ast.comprehension: lambda n: [ast.comprehension(n.target, n.iter, n.ifs[1:], 0)] * bool(n.ifs),
    ast.Assign: lambda n: [ast.Pass()] * any(hasattr(t, "value") for t in n.targets),
    ast.Subscript: lambda n: [ast.Subscript(n.value, *key, n.ctx) for key in texts([n.slice])],
    ast.Dict: lambda n: [ast.Dict(keys, n.values) for keys in texts(n.keys)],
    **dict.fromkeys((ast.Expr, ast.AugAssign, ast.Delete, ast.Raise), lambda _: [ast.Pass()]),
}
# fmt: on


def changes(hook, key, within="", lines=(1, 1)):
    """Yield each change: in what, on which lines, and what is to be put into which place."""
    node = hook[key]
    if isinstance(node, ast.stmt):
        body = getattr(node, "body", None)
        lines = node.lineno, max(node.lineno, body[0].lineno - 1 if body else node.end_lineno)
    for new in OPERATORS.get(type(node), lambda _: [])(node):
        yield within, lines, hook, key, new
    named = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
    for field, value in ast.iter_fields(node):
        inside = f"{within}.{node.name}".strip(".") if named and field == "body" else within
        parts = value if isinstance(value, list) else vars(node)
        for place, part in list(enumerate(value)) if parts is value else [(field, value)]:
            says = isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant)
            fixed = field in ("annotation", "returns", "decorator_list") or says
            if isinstance(part, ast.AST) and not fixed and not (named and field == "keywords"):
                yield from changes(parts, place, inside, lines)


def drawn(room, seed, size):
    """Yield so many changes: the name, file and lines of each, and what makes it."""
    trees = {path: ast.parse(path.read_bytes()) for path in sorted(room.rglob("*.py"))}
    every = [(path, *change) for path, tree in trees.items() for change in changes([tree], 0)]
    for path, within, lines, *put in random.Random(seed).sample(every, min(size, len(every))):
        both = [" ".join(ast.unparse(node).split()) for node in (put[0][put[1]], put[2])]
        said = " -> ".join(text if len(text) <= 150 else text[:147] + "..." for text in both)
        yield f"{path.as_posix()}: {within or 'module'}: {said}", path, lines, trees[path], *put


def digest(paths):
    return hashlib.sha256(b"".join(p.read_bytes() for p in sorted(paths))).hexdigest()[:16]


def measured(rooms):
    """Return by file and line which tests go there; new and changed tests are measured first."""
    code = [p for room in rooms for p in Path("recall", room).rglob("*.*") if p.suffix != ".pyc"]
    (kept := Path(".mutation", digest(code))).mkdir(parents=True, exist_ok=True)
    files = [p for room in rooms for p in Path("tests", room).rglob("*.py")]
    tests = [p for p in files if p.match("test_*") and p.stem not in SWEEPS]
    beside = [p for p in files if not p.match("test_*")]
    marks = {str(p): Path(kept, digest([p, *beside])) for p in tests}
    if new := [test for test, mark in marks.items() if not mark.exists()]:
        asked = [*QUIET, "--cov-context=test", "--cov-append", "--cov-report=", *new]
        command = [sys.executable, "-m", "pytest", *(f"--cov=recall/{room}" for room in rooms)]
        os.environ["COVERAGE_FILE"] = str(kept / "lines")
        if subprocess.run([*command, *asked]).returncode:
            sys.exit("Tests must pass before the code is changed.")
        [mark.touch() for mark in marks.values()]
    (data := CoverageData(kept / "lines")).read()
    found = {Path(file): data.contexts_by_lineno(file) for file in data.measured_files()}
    return {file: {line: {name.rpartition("|")[0] for name in names} - {""}
                   for line, names in lines.items()} for file, lines in found.items()}  # fmt: skip


def through(change, tests):
    """Return the tests that go through a change, each with the lines of that module it goes
    through, and whether the module is loaded with it."""
    _, path, (first, last), *_ = change
    here = tests.get(ROOT / path, {})
    near = Counter(name for names in here.values() for name in names)
    found = set().union(*(names for line, names in here.items() if first <= line <= last))
    return {n: near[n] for n in (found or near.keys()) if n}, "" in found or not found


def code_of(change):
    """Return the code of a module with a change made."""
    _, path, _, tree, hook, key, new = change
    plain, hook[key] = hook[key], new
    code = compile(ast.fix_missing_locations(tree), ROOT / path, "exec")
    hook[key] = plain
    return code


def functions(code):
    for inner in (one for one in code.co_consts if isinstance(one, CodeType)):
        yield (inner.co_qualname, inner.co_firstlineno), inner
        yield from functions(inner)


def put_in(code):
    """Give the functions of a loaded module the code that they have in a changed one."""
    new = dict(functions(code))
    for one in [one for one in gc.get_objects() if isinstance(one, FunctionType)]:
        old = one.__code__
        then = new.get((old.co_qualname, old.co_firstlineno), old)
        if old.co_filename == code.co_filename and old.co_freevars == then.co_freevars:
            one.__code__ = then


def in_turn(items, near, size):
    """Return the tests of a module, of every file in turn: three that do little else, a large one.

    Each file of tests looks at something else: many of one say the same of a change.
    """
    kept = [i for i in items if i.nodeid in near]
    kept.sort(key=lambda i: size[i.nodeid] / near[i.nodeid])
    files, turn = Counter(), {}
    for place, item in enumerate(kept):
        files[item.path] += 1
        turn[item] = files[item.path], place
    nearest = sorted(kept, key=turn.__getitem__)
    largest = sorted(kept, key=lambda i: (turn[i][0], -size[i.nodeid]))
    turns = (nearest[3 * n : 3 * n + 3] + largest[n : n + 1] for n in range(len(kept)))
    return list(dict.fromkeys(test for turn in turns for test in turn))


def limited():
    """Allow a change that never ends only so much, and return when its tests are to end."""
    resource.setrlimit(resource.RLIMIT_CPU, (int(time.process_time()) + 10 * LONGEST[0],) * 2)
    return time.process_time() + LONGEST[0]


def tried(change, names, size):
    """Load a module with a change made, run tests, and end with 10 and their status: 0 or 5."""
    code, plain = code_of(change), SourceFileLoader.get_code
    until = limited()

    def choose(items):
        nonlocal until
        items[:], until = in_turn(items, names, size), limited()

    SourceFileLoader.get_code = lambda file, name: (
        code if file.path == code.co_filename else plain(file, name))  # fmt: skip
    plugin = SimpleNamespace(pytest_collection_modifyitems=choose)
    plugin.pytest_runtest_protocol = lambda: time.process_time() > until or None
    os.dup2(os.open(os.devnull, os.O_RDWR), 1)
    with tempfile.TemporaryDirectory() as base:
        asked = [*QUIET, f"--basetemp={base}/t", *sorted({n.partition("::")[0] for n in names})]
        sys.exit(10 + int(pytest.main(asked, plugins=[plugin]) if names else 5))


def tried_at_once(changes, size, say):
    """Load the tests once; for each change put it into a fork, run tests, and say what is left."""

    def noticed(session, change, names):
        chosen = in_turn(session.items, names, size)
        put_in(code_of(change))
        until = limited()
        session._setupstate.teardown_exact(chosen[0])
        for item, after in zip(chosen, [*chosen[1:], None], strict=True):
            if session.testsfailed or time.process_time() > until:
                break
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        os._exit(bool(session.testsfailed))

    def loop(session):
        first = min(session.items, key=lambda i: ("empty_register" not in i.fixturenames, size[i]))
        first.config.hook.pytest_runtest_protocol(item=first, nextitem=session.items[-1])
        base = Path(session.config.option.basetemp)
        kept = set(base.glob("*"))
        for number, (change, names) in changes.items():
            if not os.waitpid(os.fork() or noticed(session, change, names), 0)[1]:
                os.write(say, f"{number}\n".encode())
            for made in set(base.glob("*")) - kept:
                shutil.rmtree(made, ignore_errors=True)
        return True

    os.dup2(os.open(os.devnull, os.O_RDWR), 1)
    with tempfile.TemporaryDirectory() as base:
        files = {n.partition("::")[0] for _, names in changes.values() for n in names}
        asked = [*QUIET, f"--basetemp={base}/t", *sorted(files)]
        sys.exit(pytest.main(asked, plugins=[SimpleNamespace(pytest_runtestloop=loop)]))


def not_noticed(able, tests):
    """Yield each change that no test notices."""
    size = Counter(n for lines in tests.values() for names in lines.values() for n in names)
    ways = {number: (change, *through(change, tests)) for number, change in enumerate(able)}
    within = {n: (c, names) for n, (c, names, anew) in ways.items() if names and not anew}
    if within:
        hear, say = os.pipe()
        if not (server := os.fork()):
            tried_at_once(within, size, say)
        os.close(say)
        yield from (able[int(number)] for number in os.fdopen(hear))
        assert os.waitpid(server, 0)[1] == 0, "The tests could not be loaded."
    for change, names, _ in (way for n, way in ways.items() if n not in within):
        status = os.waitpid(os.fork() or tried(change, names, size), 0)[1]
        ended = os.waitstatus_to_exitcode(status)
        assert ended != 1, f"It could not be tried: {change[0]}"
        if ended in (10, 15):
            yield change


@click.command(help=__doc__)
@click.argument("room")
@click.option("--sample", default=150, show_default=True)
@click.option("--seed", default=1, show_default=True)
@click.option("--again", type=click.File(encoding="utf-8"), help="Only what a run printed.")
@click.option("--seconds", default=LONGEST[0], show_default=True, help="Of tests for one change.")
def main(room, sample, seed, again, seconds):
    LONGEST[:] = [seconds]
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    asked, left = again and again.read(), 0
    listed = tomllib.loads(Path(__file__).with_name("equivalent.toml").read_text("utf-8"))
    equal = {name for row in listed["equivalent"] for name in row["changes"]}
    every = list(drawn(Path("recall", room), seed, sample))
    able = [change for change in every if change[0] not in equal]
    tests = measured(HELD_BY.get(room, (room,)))
    [importlib.import_module(name) for name in ("alembic", "hypothesis", "sqlalchemy.orm")]
    again = [c for c in able if asked is None or f"  {c[0]}\n" in asked]
    again or sys.exit("None of these is drawn from the code as it is: draw anew.")
    for change in not_noticed(again, tests):
        left += 1
        print(f"line {change[2][0]}  {change[0]}", flush=True)
    from scipy import stats  # it is slow to load

    seen, of = len(able) - left, len(able)
    low, high = stats.binomtest(seen, of).proportion_ci(method="wilson")
    print(f"{room}: {seen} of {of} noticed, {seen / of:.0%} (95% interval {low:.0%} to "
          f"{high:.0%}); {len(every) - of} more drawn change nothing")  # fmt: skip


if __name__ == "__main__":
    main()
