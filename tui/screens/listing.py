"""What every screen with a list shares: the keys that go up and down in it."""

from __future__ import annotations

from tui.screens.base import DeskScreen
from tui.widgets.row_list import RowList


class ListScreen(DeskScreen):
    """A screen with one list, of which one row is marked."""

    @property
    def row_list(self) -> RowList:
        """Return the list."""
        return self.query_one(RowList)

    def move(self, by: int) -> None:
        """Mark the row so many further on."""
        self.row_list.move(by)

    def action_next(self) -> None:
        """Mark the next row."""
        self.move(1)

    def action_previous(self) -> None:
        """Mark the row before."""
        self.move(-1)

    def action_page_down(self) -> None:
        """Go a page down."""
        self.move(self.row_list.page)

    def action_page_up(self) -> None:
        """Go a page up."""
        self.move(-self.row_list.page)

    def action_first(self) -> None:
        """Mark the first row."""
        self.row_list.mark(0)

    def action_last(self) -> None:
        """Mark the last row."""
        self.row_list.mark(len(self.row_list.numbers) - 1)
