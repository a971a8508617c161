"""Which sites a list shows: all that whoever acts works for, or one of them."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy.orm import Session

from recall.config import site_meant
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, staff
from recall.desk.core.sites import named, not_worked_for, worked_for
from recall.errors import InputError, Refused
from recall.records.facts.candidates import leave_out_sites


def _left_out(desk: Desk) -> frozenset[str]:
    """Return the handles of the sites whose people are on no list of this desk."""
    sites = desk.config.sites
    if desk.only_site:
        others = frozenset(one.handle for one in sites) - {desk.only_site}
        return others if desk.without_a_site else others | {""}
    return not_worked_for(sites, desk.by)


def only_shown(desk: Desk, session: Session) -> None:
    """Let a session read lists as this desk shows them.

    A session that was not told so reads of everybody: accounts, checks and plans are whole.
    """
    leave_out_sites(session, _left_out(desk))


@needs(Right.LOOK)
def narrowed(desk: Desk, site: str) -> Desk:
    """Return the same desk with lists of one site, by its handle or name; of all without one.

    Raises:
        InputError: the practice has no such site, or lists none.
        Refused: whoever acts does not work for it.
    """
    sites = desk.config.sites
    if site and not sites:
        raise InputError("This practice lists no sites.", hint="See [[sites]]: recall manual.")
    wanted = site_meant(sites, site)
    if wanted in not_worked_for(sites, desk.by):
        own = named(sites, worked_for(sites, desk.by))
        raise Refused(
            f"{desk.by.handle} does not work for {named(sites, frozenset({wanted}))}.",
            hint=f"They work for {own}; the manager can change it: recall staff sites.",
        )
    return replace(desk, only_site=wanted)


@needs(Right.LOOK)
def site_by_site(desk: Desk) -> tuple[Desk, ...]:
    """Return the same desk with lists of each site in turn; as it is where nothing is to choose.

    Whoever belongs to all sites is on the lists of the first alone.
    """
    sites = () if desk.only_site else sites_to_show(desk)
    parts = (
        replace(desk, only_site=handle, without_a_site=n == 0)
        for n, (handle, _name) in enumerate(sites)
    )
    return tuple(parts) or (desk,)


@needs(Right.LOOK)
def staff_elsewhere(desk: Desk) -> frozenset[str]:
    """Return the handles of those who work for none of the sites that are shown."""
    sites = desk.config.sites
    here = frozenset(one.handle for one in sites) - _left_out(desk)
    members = staff(desk.store) if _left_out(desk) else ()
    return frozenset(m.handle for m in members if not here & worked_for(sites, m))


@needs(Right.LOOK)
def sites_to_show(desk: Desk) -> tuple[tuple[str, str], ...]:
    """Return the sites to which whoever acts may narrow the lists, by handle and name.

    Nothing where there is nothing to choose.
    """
    mine = worked_for(desk.config.sites, desk.by)
    found = tuple((one.handle, one.name) for one in desk.config.sites if one.handle in mine)
    return found if len(found) > 1 else ()


@needs(Right.LOOK)
def handles_shown(desk: Desk) -> tuple[str, ...]:
    """Return the handles of the sites that the lists show, in the order of the settings."""
    left_out = _left_out(desk)
    return tuple(one.handle for one in desk.config.sites if one.handle not in left_out)


@needs(Right.LOOK)
def sites_shown(desk: Desk) -> str:
    """Return in words which sites the lists show; nothing where the practice is one place."""
    every = frozenset(one.handle for one in desk.config.sites)
    if len(every) < 2:
        return ""
    without = _left_out(desk)
    return named(desk.config.sites, every - without) if without else "all sites"
