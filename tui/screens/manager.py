"""Manager."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class ManagerScreen(DeskScreen):
    """Manager."""

    WHERE = "manager"
