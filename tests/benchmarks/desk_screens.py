"""How quick the desk's screens are; run by hand, prints ratios to a floor in the same run.

    python tests/benchmarks/desk_screens.py [PEOPLE ...]

Start: from the process's first moment to the day's counts on a real pseudo-terminal. The floor
is a bare Textual application that imports SQLAlchemy too, asks the same counts and shows them.
Then the same, with F3 pressed at that moment, until the first person to ring stands there.
Keys: from a key to the first bytes that are written for it, in the call list and while finding
somebody; the driver is a terminal's in everything but the terminal. Finding: the function alone.
"""

from __future__ import annotations

import asyncio
import os
import pty
import select
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from records import NOW, QUERIES, Opening, due, fill
from textual import events
from textual.app import App, ComposeResult
from textual.drivers.headless_driver import HeadlessDriver
from textual.keys import _character_to_key
from textual.widgets import Static

from recall.clock import Clock
from recall.config import load
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow, open_desk
from recall.desk.oversight.counts import counts
from recall.desk.oversight.glance import at_once
from recall.desk.people import person_card
from recall.desk.practice import demo_files
from recall.desk.practice.setting_up import set_up
from recall.desk.practice.staff import add_staff
from recall.desk.worklists import call_card
from recall.records.database.store import open_store
from recall.records.ledger.storing import Who, store_ledgers
from recall.schedule.plan import FollowUp, Ledger
from tui.app import DeskApp

ON = NOW.date()
COLUMNS = """SELECT id, person_id, urgency_rank, step, next_step_on, latest FROM follow_up
WHERE is_open = 1 AND void_at IS NULL AND next_step_on <= ?"""
SAID: list[str] = []
"""What was measured while the screen belonged to the desk."""
ROOT = Path(__file__).resolve().parents[2]
SHOWN = b"to reach today"
CALL = b"Ring     "
F3 = b"\x1bOR"
FLOOR = f"""
import sys
from sqlalchemy import create_engine, text
import sqlalchemy.orm
from textual.app import App
from textual.widgets import Static
COUNTS = (
    "SELECT count(*) FROM follow_up WHERE is_open AND next_step_on <= :on",
    "SELECT count(*) FROM follow_up WHERE is_open AND next_step_on <= :on AND step = 'reminder'",
    "SELECT count(*) FROM follow_up WHERE is_open AND latest < :on",
    "SELECT count(*) FROM referral WHERE is_open AND chase_on <= :on",
    "SELECT count(*) FROM visit WHERE confirmed_at IS NULL AND void_at IS NULL",
)
class Bare(App):
    def compose(self):
        yield Static("", id="said")
    def on_mount(self):
        self.run_worker(self.ask, thread=True)
    def ask(self):
        with create_engine("sqlite:///" + sys.argv[1]).connect() as connection:
            found = [connection.scalar(text(each), {{"on": sys.argv[2]}}) for each in COUNTS]
        said = f"{{found}} {SHOWN.decode()}"
        self.call_from_thread(self.query_one("#said").update, said)
Bare().run()
"""
OURS = "import sys; from recall.cli.main import main; sys.exit(main(sys.argv[1:]))"


def opens(follow_up: FollowUp) -> Opening:
    """Every follow-up begins with a call, so that the call list is long."""
    return Opening("phone", follow_up.earliest)


def make(folder: Path, people: int) -> Path:
    """Make a register of so many people in a folder; return its configuration file."""
    path = folder / "recall.toml"
    settings = (demo_files.source() / "recall.toml").read_text("utf-8")
    path.write_text(settings.partition("[changeover]")[0], "utf-8")  # nobody here is of before
    config = load(path)
    set_up(config)
    store = open_store(config.files.database)
    add_staff(store, Clock.at(ON), StaffRow(0, "quill", "A. Quill", Role.CLINICAL_LEAD), by=None)
    fill(store, people)
    who = Who(1, NOW, ON)
    for first in range(1, people + 1, 1000):
        ids = range(first, min(first + 1000, people + 1))
        with store.write() as session:
            ledgers = {n: Ledger(open=(due(n),), closings=(), referrals=()) for n in ids}
            store_ledgers(session, ledgers, who, opens)
    store.close()
    return path


def opening(path: Path) -> Desk:
    return open_desk(load(path), by="quill", clock=Clock.at(ON))


def until_shown(command: Sequence[str], words: Sequence[bytes] = (SHOWN,)) -> float:
    """Return the seconds until a program has written the last of the words to a terminal.

    Each of the words before it is answered with the key that begins the calls.
    """
    began = time.perf_counter()
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(ROOT)
        os.environ.update(TERM="xterm-256color", COLUMNS="120", LINES="40")
        os.execv(command[0], command)
    seen, left = b"", list(words)
    while left and time.perf_counter() - began < 60:
        if select.select([terminal], [], [], 0.05)[0]:
            try:
                seen += os.read(terminal, 65536)
            except OSError:
                break
        if left[0] in seen:
            del left[0]
            if left:
                os.write(terminal, F3)
    taken = time.perf_counter() - began
    os.kill(child, 9)
    os.waitpid(child, 0)
    os.close(terminal)
    return float("nan") if left else taken


def starting(path: Path, rounds: int = 7) -> None:
    database = str(load(path).files.database)
    floor_command = [sys.executable, "-c", FLOOR, database, ON.isoformat()]
    options = ["desk", "--config", str(path), "--by", "quill", "--on", ON.isoformat()]
    own_command = [sys.executable, "-c", OURS, *options]
    floor, own, called = [], [], []
    for _ in range(rounds):
        floor.append(until_shown(floor_command))
        own.append(until_shown(own_command))
        called.append(until_shown(own_command, (SHOWN, CALL)))
    low, high, call = (statistics.median(taken) for taken in (floor, own, called))
    print(f"start: floor {1000 * low:.0f} ms, desk {1000 * high:.0f} ms, ratio {high / low:.2f}")
    print(f"  F3 at once: the first call stands there after {1000 * call:.0f} ms")


class Stamping(HeadlessDriver):
    """A terminal's driver without the terminal, that remembers when something was written."""

    stamps: ClassVar[list[float]] = []

    @property
    def is_headless(self) -> bool:
        """Say no, so that bytes are really made."""
        return False

    def write(self, data: str) -> None:
        """Stamp the time."""
        self.stamps.append(time.perf_counter())


async def send(app: DeskApp, key: str, patience: float = 2.0) -> float:
    """Press a key and return the milliseconds until something was written for it."""
    name = _character_to_key(key) if len(key) == 1 else key
    event = events.Key(name, key if len(key) == 1 else None)
    event.set_sender(app)
    Stamping.stamps.clear()
    began = time.perf_counter()
    assert app._driver is not None
    app._driver.send_message(event)
    while not Stamping.stamps and time.perf_counter() - began < patience:
        await asyncio.sleep(0)
    return 1000 * ((Stamping.stamps or [time.perf_counter()])[0] - began)


async def rest(seconds: float) -> None:
    """Let whatever was begun end."""
    await asyncio.sleep(seconds)


def told(what: str, taken: Sequence[float]) -> None:
    ordered = sorted(taken)
    p95 = ordered[int(0.95 * (len(ordered) - 1))]
    SAID.append(f"  {what:<34} median {statistics.median(ordered):6.1f} ms   95th {p95:6.1f} ms")


async def press_keys(app: DeskApp, people: int) -> None:
    await rest(2 + people / 50_000)
    await send(app, "f3")
    await rest(2 + people / 50_000)
    SAID.append(f"keys, {people:,} people, {len(app.screen.query_one('#rows').numbers):,} calls:")
    rounds: tuple[tuple[str, tuple[str, ...], float], ...] = (
        ("down, one after the other", ("down",) * 100, 0.03),
        ("page down", ("pagedown",) * 20, 0.15),
        ("end and home", ("end", "home") * 10, 0.15),
        ("an outcome, until the key is taken", ("1",) * 15, 0.8),
        ("down, while the list is read", ("r", "down", "up") * 10, 0.03),
    )
    for what, keys, pause in rounds:
        taken = []
        for key in keys:
            took = await send(app, key)
            if key != "r":  # it shows nothing by itself: what counts are the keys after it
                taken.append(took)
            await rest(pause)
        told(what, taken)
        await rest(0.5)
    await send(app, "f4")
    await rest(1)
    taken = [await send(app, key) for key in "marshten 12/3/1961"]
    told("a letter while finding", taken)
    await app.action_quit()


class Bare(App[None]):
    """The floor for keys: one text as large as the screen, drawn anew for each key."""

    def compose(self) -> ComposeResult:
        yield Static(id="said")

    def on_key(self, event: events.Key) -> None:
        line = f"{event.key} {time.perf_counter()} ".ljust(120, "·")
        self.query_one("#said", Static).update("\n".join([line] * 38), layout=False)


def ordering(path: Path) -> None:
    """Order the calls and count the day, in processor time, by the driver's bare statement."""
    desk, database = opening(path), load(path).files.database

    def driver() -> None:
        raw = sqlite3.connect(database)
        raw.execute(COLUMNS, (ON.isoformat(),)).fetchall()
        raw.close()

    floor = worked(driver)
    print(f"floor: the same columns by the driver {floor:.1f} ms of work")
    for label, run in (
        ("order of the calls", lambda: call_card.order(desk)),
        ("the day's counts", lambda: counts(desk)),
    ):
        own = worked(run)
        print(f"{label:<30}{own:8.1f} ms, {own / floor:.1f} times the floor")
    desk.close()


def worked(run: Callable[[], object], times: int = 9) -> float:
    """Return the milliseconds of processor time for one, as the middle of some."""
    taken = []
    for _ in range(times):
        began = time.process_time()
        run()
        taken.append(1000 * (time.process_time() - began))
    return statistics.median(taken)


def floor_of_keys() -> None:
    app = Bare()
    app.driver_class = Stamping

    async def press() -> None:
        await rest(0.5)
        taken = []
        for _ in range(60):
            taken.append(await send(app, "down"))
            await rest(0.03)
        told("floor: a bare text drawn anew", taken)
        await app.action_quit()

    async def run() -> None:
        piloted: Callable[[Any], Any] = lambda _pilot: press()  # noqa: E731
        await app.run_async(headless=False, size=(120, 40), auto_pilot=piloted)

    asyncio.run(run())
    print(SAID.pop())


def keys(path: Path, people: int) -> None:
    app = DeskApp(partial(opening, path), log_folder=path.parent)
    app.driver_class = Stamping

    async def run() -> None:
        piloted: Callable[[Any], Any] = lambda _pilot: press_keys(app, people)  # noqa: E731
        await app.run_async(headless=False, size=(120, 40), auto_pilot=piloted)

    asyncio.run(run())
    print("\n".join(SAID))
    SAID.clear()


def finding(path: Path) -> None:
    desk = opening(path)
    taken = []
    for words in QUERIES:
        for _ in range(5):
            began = time.perf_counter()
            person_card.find(desk, words, 50)
            taken.append(1000 * (time.perf_counter() - began))
    told("finding somebody", taken)
    print(SAID.pop())
    for what, run in (
        ("the order of the calls", lambda: call_card.order(desk)),
        ("call cards of 40", lambda: call_card.call_cards(desk, call_card.order(desk)[:40])),
        ("the counts at a glance", lambda: at_once(desk.store, desk.clock)),
        ("the day's counts", lambda: counts(desk)),
    ):
        began = time.perf_counter()
        run()
        print(f"  {what:<34} {1000 * (time.perf_counter() - began):13.1f} ms")
    desk.close()


def main() -> None:
    """Measure at each size."""
    for people in [int(word) for word in sys.argv[1:]] or [1_000, 100_000]:
        with tempfile.TemporaryDirectory() as folder:
            path = make(Path(folder), people)
            ordering(path)
            starting(path)
            floor_of_keys()
            keys(path, people)
            finding(path)


if __name__ == "__main__":
    main()
