"""Person."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class PersonScreen(DeskScreen):
    """Person."""

    WHERE = "person"
