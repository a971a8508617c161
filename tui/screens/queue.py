"""Queue."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class QueueScreen(DeskScreen):
    """Queue."""

    WHERE = "queue"
