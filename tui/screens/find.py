"""Find."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class FindScreen(DeskScreen):
    """Find."""

    WHERE = "find"
