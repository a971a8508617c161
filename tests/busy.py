"""The invented practice as it was before its changeover: much is open, much of it old.

Tests that need many rows of a kind take it in the place of the calm one that the demo shows.
"""

from __future__ import annotations

from pathlib import Path


def without_changeover(settings: Path) -> None:
    """Forget when the practice went live, and what became of its referrals."""
    kept = settings.read_text("utf-8").partition("\n[changeover]")[0]
    settings.write_text(kept, "utf-8")
    settings.with_name("referrals.csv").unlink()
