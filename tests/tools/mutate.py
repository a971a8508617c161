"""Change the code of a room one step at a time, and see whether its tests notice.

Which lines each test goes through is measured once by `coverage`, and kept in `.mutation`. A
change is made as its module is loaded, in a forked process, where the tests through it run, the
smallest and the largest in turn. `equivalent.toml` lists changes that change nothing, with why.
"""

import ast
import hashlib
import importlib
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import SimpleNamespace

import click
import pytest
from coverage import CoverageData

ROOT = Path(__file__).parents[2]
CORE = ("care", "protocol", "schedule")  # they make a plan together: the cases test all three
EDGES = ("desk", "cli", "jobs")  # the desk is called by commands and jobs: their tests hold it too
HELD_BY = {**dict.fromkeys(CORE, CORE), "desk": EDGES}
# Tests that change the rules themselves, or go over far too much for one change.
SWEEPS = ("test_rule_changes", "test_section_changes", "test_an_invented_finding", "test_sweep",
          "test_properties", "test_any_actions")  # fmt: skip
QUIET = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "--tb=short"]
LONGEST = 8  # seconds of tests that one change is given
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


def tried(change, tests):
    """End with 10 and the status of the tests with a change made: 0, or 5 for none."""
    _, path, (first, last), tree, hook, key, new = change
    hook[key] = new
    code = compile(ast.fix_missing_locations(tree), ROOT / path, "exec")
    plain, here = SourceFileLoader.get_code, tests.get(ROOT / path, {})
    through = set().union(*(names for line, names in here.items() if first <= line <= last))
    through = through or set().union(*here.values())  # made as the module is loaded
    size = Counter(n for lines in tests.values() for names in lines.values() for n in names)

    def choose(items):
        kept = sorted((i for i in items if i.nodeid in through), key=lambda i: size[i.nodeid])
        items[:] = [kept.pop(-(n % 2)) for n in range(len(kept))]
        choose.until = time.process_time() + LONGEST

    SourceFileLoader.get_code = lambda file, name: (
        code if Path(file.path) == ROOT / path else plain(file, name))  # fmt: skip
    plugin = SimpleNamespace(pytest_collection_modifyitems=choose)
    plugin.pytest_runtest_protocol = lambda: time.process_time() > choose.until or None
    resource.setrlimit(resource.RLIMIT_CPU, (int(time.process_time()) + 20 * LONGEST,) * 2)
    os.dup2(os.open(os.devnull, os.O_RDWR), 1)
    with tempfile.TemporaryDirectory() as base:
        asked = [*QUIET, f"--basetemp={base}/t", *sorted({n.partition("::")[0] for n in through})]
        sys.exit(10 + int(pytest.main(asked, plugins=[plugin]) if through else 5))


@click.command(help=__doc__)
@click.argument("room")
@click.option("--sample", default=150, show_default=True)
@click.option("--seed", default=1, show_default=True)
@click.option("--again", type=click.File(encoding="utf-8"), help="Only what a run printed.")
def main(room, sample, seed, again):
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
    for change in again or sys.exit("None of these is drawn from the code as it is: draw anew."):
        ended = os.waitstatus_to_exitcode(os.waitpid(os.fork() or tried(change, tests), 0)[1])
        assert ended != 1, f"It could not be tried: {change[0]}"
        if ended in (10, 15):
            left += 1
            print(f"line {change[2][0]}  {change[0]}", flush=True)
    from scipy import stats  # it is slow to load

    seen, of = len(able) - left, len(able)
    low, high = stats.binomtest(seen, of).proportion_ci(method="wilson")
    print(f"{room}: {seen} of {of} noticed, {seen / of:.0%} (95% interval {low:.0%} to "
          f"{high:.0%}); {len(every) - of} more drawn change nothing")  # fmt: skip


if __name__ == "__main__":
    main()
