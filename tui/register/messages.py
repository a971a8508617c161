"""What work in the background reports: it never touches the screen itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.message import Message

from recall.errors import RecallError


class Done(Message):
    """Work ended well; `then` takes what it came to."""

    def __init__(self, group: str, request: int, value: Any, then: Callable[[Any], None]) -> None:
        """Remember what was asked for and what came of it."""
        super().__init__()
        self.group = group
        self.request = request
        self.value = value
        self.then = then


class Failed(Message):
    """Work ended with an error, already in words."""

    def __init__(
        self,
        group: str,
        request: int,
        error: RecallError,
        otherwise: Callable[[RecallError], None] | None,
    ) -> None:
        """Remember what was asked for and why it did not go."""
        super().__init__()
        self.group = group
        self.request = request
        self.error = error
        self.otherwise = otherwise
