"""A text whose keys can be clicked without looking like links."""

from __future__ import annotations

from typing import Any

from textual.message import Message
from textual.widgets import Static


class Words(Static):
    """A text; what is clickable in it is drawn as the rest."""

    class Resized(Message):
        """It has another size: what is cut to fit it is to be drawn anew."""

        def __init__(self, words: Words) -> None:
            """Say of which text."""
            super().__init__()
            self.words = words

        @property
        def control(self) -> Words:
            """Return the text."""
            return self.words

    def __init__(self, *content: Any, **more: Any) -> None:
        """Show a text."""
        super().__init__(*content, **more)
        self.auto_links = False

    def on_resize(self) -> None:
        """Tell whoever fills it."""
        self.post_message(self.Resized(self))
