"""`recall desk`: the terminal screens, on the practice's register or on an invented one."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from datetime import date
from functools import partial
from itertools import chain, repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.common import acting, say, settings
from recall.errors import ConfigError, InputError, Refused, StorageError

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.oversight.glance import Counts

    Glancing = Callable[[], Counts | None]


@click.command()
@acting
@click.option("--demo", is_flag=True, help="An invented practice, thrown away afterwards.")
@click.option("--colours", metavar="NAME", default="", help="paper, dusk, ansi-light, ansi-dark.")
def desk(config: Path | None, by: str | None, on: date | None, demo: bool, colours: str) -> None:
    """Open the desk: the day's calls, finding people, everything about one person.

    Everything it lists and does is a plain command as well; see recall --help.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise InputError(
            "The desk needs a terminal.", hint="Use the plain commands instead: recall --help."
        )
    if demo or _practice(config, by, on, colours) == "demo":
        _invented(colours, by if demo else None)


def _practice(config: Path | None, by: str | None, on: date | None, colours: str) -> str | None:
    """Open the desk on the practice's register; return what is wanted afterwards."""
    gc.disable()  # what is loaded stays; it looks again once the desk is open, or is left
    _ask_for_key(config)
    glancing: Glancing = partial(_glance, config, on)
    if by:  # a name that may not act is refused at once, and not behind the first screen
        with suppress(StorageError):  # the screens say what to do about that
            glancing = _counted(_glance(config, on, by), glancing)
    return _run(
        partial(_open, config, by, on),
        Path.cwd(),
        colours,
        setting_up=partial(_set_up, config),
        glancing=glancing,
        signing=partial(_sign, config, on),
    )


def _ask_for_key(config: Path | None) -> None:
    """Let the key be typed before the screens take the terminal."""
    from recall.records.database import files, keys

    with suppress(ConfigError):  # the screens say what to do about settings that are not there
        settings(config)
        if keys.is_typed() and files.in_force():
            keys.codes()


def _open(config: Path | None, by: str | None, on: date | None) -> Desk:
    from recall.clock import Clock
    from recall.desk.core.proof import Way
    from recall.desk.core.session import open_desk
    from recall.desk.core.staff_row import works_here

    found = settings(config)
    today = Clock(found.calendar.time_zone).today()
    if on is not None and on > today:
        raise Refused(
            f"The desk does not open on a day that has not come ({on}).",
            hint=f"Look ahead with a list, as in: recall queue --on {on}.",
        )
    opened = open_desk(found, by=by, on=on, way=Way("screen"))
    try:
        works_here(opened.by)
    except Refused:
        opened.close()
        raise
    return opened


def _sign(config: Path | None, on: date | None, handle: str, password: str) -> Desk:
    """Open the desk for somebody who proves who they are."""
    from recall.desk.core.proof import Way
    from recall.desk.core.session import open_desk
    from recall.desk.signing.proofs import by_password

    proof = by_password(handle, password)
    return open_desk(settings(config), on=on, way=Way("screen", proof))


def _glance(config: Path | None, on: date | None, by: str = "") -> Counts | None:
    from recall.desk.oversight.glance import glance

    return glance(settings(config), on, by)


def _counted(counts: Counts | None, glancing: Glancing) -> Glancing:
    """Return what gives the counts that are there the first time, and counts anew afterwards."""
    looks = chain([lambda: counts], repeat(glancing))
    return lambda: next(looks)()


def _set_up(config: Path | None) -> object:
    from recall.desk.practice.setting_up import set_up

    return set_up(settings(config))


def _invented(colours: str, by: str | None) -> None:
    """Make the invented practice in a folder of its own, open the desk on it, take it away.

    `by` is one of its own staff; where nobody is named, who works in it by default.
    """
    from recall.cli.shared.progress import Progress
    from recall.clock import Clock
    from recall.desk.practice import demo

    folder = Path(tempfile.mkdtemp(prefix="recall-demo-"))
    progress = Progress("…")
    try:
        say("An invented practice is made; nothing of yours is touched.")
        path, on = demo.make(folder, Clock().today(), say, progress)
        progress.end()
        _run(partial(_open, path, by or demo.WHO, on), folder, colours, demo=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(
    opening: Callable[[], Desk],
    log_folder: Path,
    colours: str,
    **more: Any,
) -> str | None:
    from tui.app import DeskApp

    app = DeskApp(
        opening,
        log_folder=log_folder,
        colours=colours or os.environ.get("RECALL_COLOURS", ""),
        **more,
    )
    try:
        return app.run()
    finally:
        gc.enable()
