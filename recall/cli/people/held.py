"""`recall person copy` and `recall person erase`: everything held on somebody, for them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from recall.cli.shared.acts import opened, typed
from recall.cli.shared.common import FILE, acting, emit_lines, say
from recall.cli.shared.whose import emit_whose


@click.command("copy")
@click.argument("ref")
@click.option("--out", type=FILE, required=True, help="The ZIP file to write.")
@acting
def copy(ref: str, out: Path, **given: Any) -> None:
    """Write everything held on them into one ZIP file; for them, on request."""
    from recall.desk.practice.handing_over import hand_over

    with opened(given) as desk:
        emit_whose(desk, ref)
        made = hand_over(desk, ref, out)
    emit_lines(f"Made: {made.path}, with {made.rows} rows and {made.letters} letter(s).")
    say("It may name other people: read it before it is handed over.")


@click.command("erase")
@click.argument("ref")
@click.option("--why", required=True, help="On what ground; without names: it is kept.")
@click.option("--name", default="", help="Their name, typed in full.")
@acting
def erase(ref: str, why: str, name: str, **given: Any) -> None:
    """Ask that everything held on them is erased; typed by a second one, it is done.

    It cannot be taken back. Look first whether it has to be kept: local policy, a claim, an
    inquiry, safeguarding.
    """
    from recall.desk.core.rights import Right
    from recall.desk.practice.erasing import erase_person

    with opened(given) as desk:
        desk.require(Right.ERASE)
        emit_whose(desk, ref)
        with_name = name or typed("Type the person's given and family name")
        came = erase_person(desk, ref, with_name, why)
    if not came.done:
        emit_lines("Asked for. Nothing is erased yet: a second one who may types the same.")
        return
    emit_lines(f"Erased: {came.rows} rows, {came.files} file(s) of letters.")
    if came.to_do:
        say(came.to_do)
    say("Older backups hold them until they are thinned out; a restore erases them again.")
    say("Look through what was printed or exported: papers, reports, files that were taken in.")


HELD = (copy, erase)
