"""A text whose keys can be clicked without looking like links."""

from __future__ import annotations

from typing import Any

from textual.widgets import Static


class Words(Static):
    """A text; what is clickable in it is drawn as the rest."""

    def __init__(self, *content: Any, **more: Any) -> None:
        """Show a text."""
        super().__init__(*content, **more)
        self.auto_links = False
