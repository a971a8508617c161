"""`recall person copy`: everything held on somebody, for them on their request."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from recall.cli.shared.acts import opened
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


HELD = (copy,)
