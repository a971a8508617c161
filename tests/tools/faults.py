"""Disturb every writing command of the program at random, for as long as one likes.

    python tests/tools/faults.py [--minutes 10] [--seed N] [--only NAME]

Each round takes a copy of an invented practice, runs one command while something goes wrong (the
process killed at any moment, the disk full, the database locked, a page damaged, the clock set
back) and then looks: the file is whole, the history verifies, nothing must-never-be is found, what
one transaction writes is there or not, what was said to be done is there, and every message is a
sentence. Then the same command goes through undisturbed. What does not hold is printed with its
round, and `--seed N --only NAME` does it again.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from recall.desk.practice import demo

DAY = demo.ON.isoformat()
NOW, BEFORE = f"{DAY}T09:00", f"{DAY}T08:00"
RECALL = str(Path(sys.executable).with_name("recall"))
KILLED = -signal.SIGKILL
COUNTED = ("person", "visit", "contact", "booking", "letter", "referral", "decision")


@dataclass(frozen=True)
class Act:
    """A command that writes."""

    words: tuple[str, ...]
    once: bool = True
    """It writes in one transaction: everything of it is there, or nothing."""
    again: tuple[int, ...] = (0,)
    """How it may end when it is repeated."""
    first: tuple[str, ...] = ()
    """A command to run before, undisturbed."""


QUILL, THACKRAY = ("--by", "quill"), ("--by", "thackray")
CALLED = "W1494"
ACTS = {
    "contact": Act(("contact", "log", CALLED, "no_answer", *THACKRAY)),
    "book": Act(
        ("book", "W1511", "2027-03-09 10:00", "--with", "quill", *THACKRAY), again=(0, 2, 5)
    ),
    "died": Act(("person", "died", CALLED, "--name", "Violet Yeadon", *QUILL), again=(0, 2, 5)),
    "strike": Act(
        ("line", "strike", CALLED, "fluid:left", "--because", "judgement", *QUILL), again=(0, 2, 5)
    ),
    "close": Act(
        ("close", CALLED, "--clear", "none", "--saw", "all", "--yes", *QUILL),
        again=(0, 2, 4, 5),
    ),
    "matter": Act(("matters", "add", "message", CALLED, "She rang.", *THACKRAY)),
    "undo": Act(
        ("undo", *THACKRAY),
        again=(0, 2, 4, 5),
        first=("contact", "log", CALLED, "no_answer", *THACKRAY),
    ),
    "letters": Act(("letters", "make", *THACKRAY), once=False),
    "posted": Act(
        ("letters", "posted", "1", "--taken-off", "0", *THACKRAY),
        again=(0, 5),
        first=("letters", "make", *THACKRAY),
    ),
    "import": Act(("import", "people.csv", "--yes", *THACKRAY), once=False, again=(0, 2)),
    "replan": Act(("replan", *THACKRAY), once=False),
    "jobs": Act(("jobs", "run"), once=False, again=(0, 6)),
    "backup": Act(("backup",), once=False),
    "restore": Act(
        ("restore", "BACKUP", *QUILL, "--expect", "NUMBER"),
        once=False,
        again=(0, 2, 5),
        first=("backup",),
    ),
    "encryption": Act(("encryption", "begin", *QUILL), once=False, again=(0, 5)),
}


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    status: int
    said: str


Running = subprocess.Popen[str]


class Round:
    """One copy of the practice, and what is done to it."""

    def __init__(self, folder: Path, chance: random.Random) -> None:
        self.folder, self.chance = folder, chance
        self.database = folder / "recall.db"
        self.wrong: list[str] = []

    def start(self, words: tuple[str, ...], now: str = NOW, limit: int = 0) -> Running:
        """Start a command; with a limit, no file may grow beyond that many bytes."""

        def narrow() -> None:
            if limit:
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        return subprocess.Popen(
            (RECALL, *self._given(words)),
            cwd=self.folder,
            env={**os.environ, "RECALL_INVENTED_NOW": now},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            preexec_fn=narrow,
        )

    def run(self, words: tuple[str, ...], now: str = NOW, limit: int = 0) -> Ended:
        """Run a command to its end."""
        process = self.start(words, now, limit)
        said, _none = process.communicate(timeout=600)
        return Ended(process.returncode, said)

    def killed(self, words: tuple[str, ...], seconds: float) -> Ended:
        """Run a command and kill it at any moment of the time that it takes."""
        process = self.start(words)
        time.sleep(self.chance.uniform(0.1, 1.05) * seconds)
        process.kill()
        said, _none = process.communicate()
        return Ended(process.returncode, said)

    def _given(self, words: tuple[str, ...]) -> list[str]:
        """Return a command with the backup that it is about, and the number that it shows."""
        if "BACKUP" not in words:
            return list(words)
        backup = str(max((self.folder / "backups").rglob("*.db")))
        shown = self.run(("restore", backup, *QUILL)).said
        number = re.search(r"--expect (\d+)", shown)
        other = {"BACKUP": backup, "NUMBER": number[1] if number else "0"}
        return [other.get(word, word) for word in words]

    def counts(self) -> tuple[int, ...]:
        """Return the rows of what people make; nothing of an encrypted register."""
        if self.database.read_bytes()[:6] != b"SQLite":
            return ()
        with closing(sqlite3.connect(self.database)) as connection:
            return tuple(
                connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in COUNTED
            )

    def look(self) -> None:
        """Look whether the register is whole, and its history, and nobody falls out."""
        if self.counts():
            with closing(sqlite3.connect(self.database)) as connection:
                if connection.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                    self.wrong.append("the file is not whole")
                if connection.execute("PRAGMA foreign_key_check").fetchone():
                    self.wrong.append("a row points to nothing")
        self.sentence(self.run(("history", "verify", *QUILL)), (0,))
        self.sentence(self.run(("failsafe", *QUILL)), (0, 2, 6))

    def sentence(self, ended: Ended, allowed: tuple[int, ...]) -> None:
        """Note what ended otherwise than it may, or was not said in a sentence."""
        if ended.status not in allowed or "Traceback" in ended.said:
            self.wrong.append(f"ended with {ended.status}: {ended.said[-400:]}")


def disturbed(how: str, one: Round, act: Act, usual: Usual) -> None:
    """Run a command while something goes wrong, and look at what it left."""
    before = one.counts()
    ended = _with(how, one, act, usual.seconds)
    if ended.status != KILLED:
        allowed = act.again if how in ("killed", "clock back") else (*act.again, 2, 3, 4, 5, 6)
        one.sentence(ended, allowed)
    if how == "damaged":
        return
    one.look()
    if act.once and one.counts() not in (before, usual.after):
        one.wrong.append(f"half done: {before} became {one.counts()}, not {usual.after}")
    if act.once and ended.status == 0 and one.counts() != usual.after:
        one.wrong.append("said to be done, and is not there")
    one.sentence(one.run(act.words), act.again)
    one.look()


def _with(how: str, one: Round, act: Act, seconds: float) -> Ended:
    if how == "killed":
        return one.killed(act.words, seconds)
    if how == "disk full":
        largest = max(p.stat().st_size for p in one.folder.rglob("*") if p.is_file())
        limit = one.chance.choice((4096, largest // 2, largest + one.chance.randrange(65536)))
        return one.run(act.words, limit=limit)
    if how == "clock back":
        return one.run(act.words, now=BEFORE)
    if how == "damaged":
        _damage(one)
        return one.run(act.words)
    with closing(sqlite3.connect(one.database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        return one.run(act.words)


def _damage(one: Round) -> None:
    """Write over some bytes of the file, as a bad disk does."""
    size = one.database.stat().st_size
    with one.database.open("rb+") as file:
        file.seek(one.chance.randrange(100, size - 64))
        file.write(one.chance.randbytes(64))


HOW = ("killed", "killed", "killed", "disk full", "locked", "damaged", "clock back")


@dataclass(frozen=True)
class Usual:
    """What a command takes and leaves where nothing goes wrong."""

    seconds: float
    after: tuple[int, ...]


def prepared(base: Path, act: Act, into: Path, chance: random.Random) -> Round:
    """Return a copy of the practice in which a command is about to be run."""
    shutil.rmtree(into, ignore_errors=True)
    shutil.copytree(base, into)
    one = Round(into, chance)
    if act.first:
        one.sentence(one.run(act.first), (0,))
    return one


def usual(base: Path, act: Act, into: Path) -> Usual:
    """Run a command undisturbed, and measure it."""
    one = prepared(base, act, into, random.Random(0))
    began = time.monotonic()
    ended = one.run(act.words)
    if ended.status not in act.again or one.wrong:
        raise SystemExit(
            f"{' '.join(act.words)} ended with {ended.status}: {ended.said} {one.wrong}"
        )
    return Usual(time.monotonic() - began, one.counts())


def laid_out(base: Path) -> None:
    """Make the practice; where a key of its register would be kept is in its settings."""
    path, _on = demo.make(base, demo.ON, print)
    path.write_text(path.read_text() + '\n[encryption]\nkey = "key"\n')


def main() -> None:
    """Go round until the time is over; print what does not hold, and how much was tried."""
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("--minutes", type=float, default=10)
    given.add_argument("--seed", type=int, default=1)
    given.add_argument("--only", choices=sorted(ACTS))
    asked = given.parse_args()
    tried: Counter[str] = Counter()
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        base, into = Path(folder) / "practice", Path(folder) / "copy"
        laid_out(base)
        names = [asked.only] if asked.only else sorted(ACTS)
        known: dict[str, Usual] = {}
        end, number = time.monotonic() + 60 * asked.minutes, asked.seed
        while time.monotonic() < end:
            chance = random.Random(number)
            name, how = chance.choice(names), chance.choice(HOW)
            if name not in known:
                known[name] = usual(base, ACTS[name], into)
            one = prepared(base, ACTS[name], into, chance)
            disturbed(how, one, ACTS[name], known[name])
            tried[how] += 1
            for said in one.wrong:
                wrong += 1
                print(f"round {number}, {name}, {how}: {said}", flush=True)
            number += 1
    print(f"{tried.total()} rounds ({dict(tried)}), {wrong} that did not hold")


if __name__ == "__main__":
    main()
