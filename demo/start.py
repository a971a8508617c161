"""Show the whole path on an invented practice, with one command.

    python3 demo/start.py

Makes a private environment in demo/made/, takes in the practice's files, and shows what
the program finds on the day on which it is made. Needs Python 3.11 and the standard library only;
touches nothing outside this checkout.
"""

import csv
import shutil
import sys
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 — this is the place that says so
    sys.exit(f"This needs Python 3.11 or newer; this one is {sys.version.split()[0]}.")
sys.dont_write_bytecode = True

from dataclasses import dataclass  # noqa: E402 — not before the lines above
from datetime import date  # noqa: E402

import environment as setting  # noqa: E402
from installing import ready  # noqa: E402
from running import Run, Trouble, explain, run, say  # noqa: E402

PRACTICE = setting.MADE / "practice"
PAGES = {"letters": "Letters to print", "cover": "Count of the post", "labels": "Labels"}
DAY = "DAY"
"""Stands in the commands for the day for which the files were laid out."""
VISITS = "VISITS"
"""Stands for how many visits came in; whoever confirms all must have seen it."""


@dataclass(frozen=True)
class Step:
    """One command of `recall`, as anybody could type it in the practice's folder."""

    saying: str
    command: tuple[str, ...]
    into: str = ""
    """The file that gets what it prints."""
    found: str = ""
    """What the rows of that file are, for the summary."""
    sends_back: str = ""
    """The file of which a few rows are mistyped: they go to a rejects file, with exit status 2."""

    def went_well(self, status: int) -> bool:
        """Return whether the demo can go on."""
        if status == 2 and self.sends_back:
            return bool(rejects_of(self.sends_back))
        return status == 0


DESK = ("--by", "thackray", "--on", DAY)
BY_QUILL = ("--by", "quill")
CLINICIAN = (*BY_QUILL, "--on", DAY)
STEPS = (
    Step("Making a new database", ("set-up", "--clinician", "quill", "--name", "A. Quill")),
    Step(
        "Adding the desk",
        ("staff", "add", "thackray", "--name", "R. Thackray", "--role", "reception", *BY_QUILL),
    ),
    Step(
        "Adding the other practitioner",
        ("staff", "add", "osei", "--name", "M. Osei", "--role", "practitioner", *BY_QUILL),
    ),
    Step("Taking in the people", ("import", "people.csv", "--yes", *DESK), sends_back="people"),
    Step("Taking in the visits", ("import", "visits.csv", "--yes", *DESK), sends_back="visits"),
    Step("Taking in the contacts", ("import", "contacts.csv", "--yes", *DESK)),
    Step("Taking in the bookings", ("import", "bookings.csv", "--yes", *DESK)),
    Step(
        "Taking in the referrals",
        ("import", "referrals.csv", "--yes", *DESK),
        sends_back="referrals",
    ),
    Step("Confirming the plans", ("confirm", "--all", "--expect", VISITS, *CLINICIAN)),
    Step("Making the week's letters", ("letters", "make", *DESK)),
    Step("Who to call", ("queue", "--csv", "--on", DAY), "queue.csv", "To call today"),
    Step("Who is overdue", ("overdue", "--csv", "--on", DAY), "overdue.csv", "Overdue"),
    Step("Who is lost", ("lost", "--csv", "--on", DAY), "lost.csv", "Lost: a decision is awaited"),
    Step(
        "Which referrals to chase",
        ("referrals", "--csv", "--on", DAY),
        "referrals.csv",
        "Referrals to ask about",
    ),
    Step(
        "What waits from before the practice went live",
        ("changeover", "--more", "99", "--csv", "--on", DAY),
        "changeover.csv",
        "From before: to look through",
    ),
)
"""The whole demo, in order."""


def rejects_of(name: str) -> list[Path]:
    """Return the files with rows that were sent back from an import."""
    return sorted(PRACTICE.rglob(f"{name}*reject*.csv"))


def came_in() -> str:
    """Return how many visits of the practice's file were not sent back."""
    sent_back = sum(rows_of(file) for file in rejects_of("visits"))
    return str(rows_of(PRACTICE / "visits.csv") - sent_back)


def fresh_practice(environment: setting.Environment, lock: int) -> str:
    """Lay the practice's files out anew, as they come from its other program; return their day."""
    shutil.rmtree(PRACTICE, ignore_errors=True)
    for folder in ("lists", "temporary"):
        (PRACTICE / folder).mkdir(parents=True)
    into, log = PRACTICE / "temporary" / "day", PRACTICE / "demo.log"
    how = Run(environment.settings(), setting.ROOT, log, into, (lock,))
    python = environment.command("python")
    command = (python, "-m", "recall.desk.practice.demo_files", PRACTICE)
    status, wrote = run(command, "Laying out the practice's files", how)
    if status:
        raise Trouble(f"The practice's files were not laid out: {explain(wrote)}")
    return into.read_text("utf-8").strip()


def take(step: Step, day: str, environment: setting.Environment, lock: int) -> None:
    """Run one step for a day, or say why it did not work."""
    meant = {DAY: lambda: day, VISITS: came_in}
    words = [meant[word]() if word in meant else word for word in step.command]
    log = PRACTICE / "demo.log"
    into = PRACTICE / "lists" / step.into if step.into else None
    # An error's details go to a folder that stays when this start has ended.
    temporary = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(PRACTICE / "temporary"))
    settings = {**environment.settings(), **temporary, "RECALL_INVENTED_NOW": f"{day}T00:01"}
    how = Run(settings, PRACTICE, log, into, (lock,))
    status, wrote = run((environment.command("recall"), *words), step.saying, how)
    if not step.went_well(status):
        raise Trouble(
            f"`recall {' '.join(words)}` did not work: {explain(wrote)} "
            f"(Details: {setting.shown(log)})"
        )


def rows_of(file: Path) -> int:
    """Return how many rows a list has below its headings."""
    with file.open(encoding="utf-8-sig", newline="") as opened:
        return max(0, sum(1 for row in csv.reader(opened) if row) - 1)


def summary() -> list[str]:
    """Return what was found, and where it lies, one line each."""
    found = [
        (step.found, str(rows_of(PRACTICE / "lists" / step.into)), PRACTICE / "lists" / step.into)
        for step in STEPS
        if step.found
    ]
    for page in sorted((PRACTICE / "letters").rglob("*.pdf")):
        beside = page.with_suffix(".csv")
        count = str(rows_of(beside)) if beside.is_file() else ""
        found.append((PAGES[page.name.partition("-")[0]], count, page))
    found += [("Rows sent back", str(rows_of(file)), file) for file in rejects_of("")]
    wide = max(len(what) for what, _, _ in found)
    return [f"  {what:<{wide}}  {count:>4}  {setting.shown(file)}" for what, count, file in found]


def start() -> int:
    """Set up, run the steps, and tell what was found."""
    with setting.held("start") as lock:
        environment = ready("environment", "requirements.txt", lock)
        try:
            day = fresh_practice(environment, lock)
        except OSError as error:
            raise Trouble(f"Cannot write to {PRACTICE}: {setting.plain(error)}.") from error
        for step in STEPS:
            take(step, day, environment, lock)
    on = date.fromisoformat(day)
    say(f"\nWrenfield Ear Care (invented) on {on:%A} {on.day} {on:%B %Y}:\n")
    for line in summary():
        say(line)
    command = setting.shown(environment.command("recall"))
    say(f"\nLook round: go to {setting.shown(PRACTICE)} and run")
    say(f'  "{setting.ROOT / command}" desk --by thackray --on {day}')
    say(setting.how_to_remove())
    return 0


def asked_for_help(words: list[str]) -> bool:
    """Return whether somebody asked what this does, and say it; refuse any other word."""
    if not words:
        return False
    if any(word not in ("-h", "--help") for word in words):
        sys.exit(f"{' '.join(words)}: this takes no words. What it does: start.py --help")
    say(f"{(__doc__ or '').strip()}\n\n{setting.how_to_remove()}")
    return True


if __name__ == "__main__":
    sys.exit(0 if asked_for_help(sys.argv[1:]) else setting.guarded(start))
