"""Signing in at the desk: handle and password, over everything where the desk is locked."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Input, Static

from recall.errors import RecallError
from tui.dialogs.base import DeskDialog
from tui.words.text import literal

LOCKED = "The desk is locked: sign in, or leave it with Ctrl+Q. What was typed is still here."


class SignIn(DeskDialog[bool]):
    """Asks who is there and for their password; gives True once they are."""

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+s", "screen.sign", "Sign in")]

    def __init__(self, title: str, handle: str = "", *, locks: bool) -> None:
        """Ask; `locks` hides what lies behind, and cannot be left without an answer."""
        super().__init__(classes="-locks" if locks else None)
        self._title_words, self._handle, self.locks = title, handle, locks

    def compose(self) -> ComposeResult:
        """Show the two fields."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            yield Static(literal("Handle"), classes="label")
            yield Input(self._handle, id="f-handle", select_on_focus=False)
            yield Static(literal("Password"), classes="label")
            yield Input(password=True, id="f-password", select_on_focus=False)
            yield Static("", classes="wrong")
            with Horizontal(classes="buttons"):
                yield Button(literal("Sign in"), id="sign")
                if not self.locks:
                    yield Button(literal("Esc Leave"), id="leave")

    def on_mount(self) -> None:
        """Go to what is to be typed."""
        self.query_one("#f-password" if self._handle else "#f-handle").focus()

    def on_screen_suspend(self) -> None:
        """Lock once more where something opened over the lock."""
        if self.locks:
            self.app.call_later(self.app.lock_again)

    def on_screen_resume(self) -> None:
        """Go where somebody has signed in meanwhile, on a lock over this one."""
        if self.locks and not self.app.locked:
            self.dismiss(True)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter goes on to the password, and from there signs in."""
        if event.input.id == "f-handle":
            self.query_one("#f-password").focus()
        else:
            self.action_sign()

    @on(Button.Pressed, "#sign")
    def action_sign(self) -> None:
        """Sign in with what was typed; the password stays nowhere."""
        if self.writing:
            return
        field = self.query_one("#f-password", Input)
        handle, password = self.query_one("#f-handle", Input).value, field.value
        field.value = ""
        if not (handle.strip() and password):
            self.complain("Handle and password are both needed.")
            return
        self.complain("")
        self.writing = True
        sign_in = self.app.sign_in
        self.run_outside(lambda: sign_in(handle, password), self._signed, self._refused)

    @on(Button.Pressed, "#leave")
    def action_leave(self) -> None:
        """Leave without signing in, where another still is."""
        if self.locks:
            self.complain(LOCKED)
        else:
            super().action_leave()

    def _signed(self, _nothing: None) -> None:
        self.writing = False
        self.app.signed()
        self.dismiss(True)

    def _refused(self, error: RecallError) -> None:
        self.writing = False
        self.complain(str(error))
        self.query_one("#f-password").focus()
