"""Today: how much there is, what needs attention, and on a first start where to begin."""

from __future__ import annotations

from tui.screens.base import DeskScreen


class StartScreen(DeskScreen):
    """The first screen, and the one that Escape leads to."""

    WHERE = "start"
    HELP = "What there is to do today. Each line says which key leads there."
