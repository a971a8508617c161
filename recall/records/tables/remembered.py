"""What a value becomes on its way, remembered: rows share days, instants and lists of words."""

from collections.abc import Callable
from typing import Any

_KEPT = 10_000
Maker = Callable[[Any], Any]


class Remembered(dict[Any, Any]):
    """What something makes of values that never change; of nothing it makes nothing.

    Asked by `[…]`, which runs no Python for a value that is known.
    """

    def __init__(self, make: Maker) -> None:
        super().__init__({None: None})
        self._make = make

    def __missing__(self, value: Any) -> Any:
        if value is None:
            return None
        if len(self) >= _KEPT:
            self.clear()
        made = self[value] = self._make(value)
        return made
