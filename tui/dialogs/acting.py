"""Who is at this desk now: chosen from the staff table, for everything done from now on."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from recall.errors import RecallError
from tui.dialogs.choose import Choose

if TYPE_CHECKING:
    from recall.desk.core.session import Desk, StaffRow
    from tui.register.holding import RegisterApp

ALL_OF_MINE = "*"
"""In the place of a site's handle."""


def ask_who(app: RegisterApp) -> None:
    """Show everybody who works here, and let one of them act."""
    screen = app.screen
    read = getattr(screen, "read", None)
    if read is None:
        return
    if app.signs_in:
        _ask_to_sign_in(app)
        return

    def show(staff: tuple[StaffRow, ...]) -> None:
        choices = [
            (each.handle, f"{each.handle}  {each.name}  {_role(each)}")
            for each in staff
            if each.left_on is None and each.role != "jobs"
        ]
        app.push_screen(Choose("Who is at this desk now?", choices), take)

    def take(handle: str | None) -> None:
        if handle:
            read("acting", partial(_taken_over, app, handle), changed)

    def changed(desk: Desk) -> None:
        app.act_as(desk)
        _say_who(app)

    def failed(error: RecallError) -> None:
        app.notify(str(error), severity="error", markup=False)

    read("acting", _everybody, show, failed)


def ask_where(app: RegisterApp) -> None:
    """Show the sites for which whoever acts works, and narrow every list to one of them."""
    screen = app.screen
    read = getattr(screen, "read", None)
    if read is None:
        return

    def show(sites: tuple[tuple[str, str], ...]) -> None:
        if not sites:
            app.notify(f"You work for one site: {app.sites_shown}.", markup=False)
            return
        app.push_screen(Choose("Whose lists?", [(ALL_OF_MINE, "All my sites"), *sites]), take)

    def take(site: str | None) -> None:
        if site:
            wanted = "" if site == ALL_OF_MINE else site
            read("sites", lambda desk: _narrowed(desk, wanted), changed, failed)

    def changed(desk: Desk) -> None:
        app.act_as(desk)
        for what in ("headline", "keep_up" if hasattr(screen, "keep_up") else "refill"):
            getattr(screen, what)()

    def failed(error: RecallError) -> None:
        app.notify(str(error), severity="error", markup=False)

    read("sites", _sites, show, failed)


def _ask_to_sign_in(app: RegisterApp) -> None:
    """Let somebody take the desk over by their password."""
    from tui.dialogs.sign_in import SignIn

    def taken(yes: bool | None) -> None:
        if yes:
            _say_who(app)

    app.push_screen(SignIn("Who takes this desk over?", locks=False), taken)


def _taken_over(app: RegisterApp, handle: str, desk: Desk) -> Desk:
    """Return the desk with another at it; who was in hand under the old name is given back."""
    taken = desk.acting_as(handle)
    if taken.by.id != desk.by.id:
        app.give_back(desk)
    return taken


def _say_who(app: RegisterApp) -> None:
    """Say who is at the desk now, and take whoever is marked in hand under that name."""
    for what in ("headline", "take_again"):
        do = getattr(app.screen, what, None)
        if do is not None:
            do()


def _sites(desk: Desk) -> tuple[tuple[str, str], ...]:
    from recall.desk.core.narrowing import sites_to_show

    return sites_to_show(desk)


def _narrowed(desk: Desk, site: str) -> Desk:
    from recall.desk.core.narrowing import narrowed

    return narrowed(desk, site)


def _everybody(desk: Desk) -> tuple[StaffRow, ...]:
    from recall.desk.core.session import staff

    return staff(desk.store)


def _role(each: StaffRow) -> str:
    return each.role.replace("_", " ")
