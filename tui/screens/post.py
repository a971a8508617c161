"""Post."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class PostScreen(DeskScreen):
    """Post."""

    WHERE = "post"
