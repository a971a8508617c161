"""For which sites of the practice somebody works, and which people a list leaves out for that.

Where the practice lists no sites, or one, nothing here makes a difference. Nobody falls out:
whoever has no site, or one that is not listed any more, belongs to all of them.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from recall.config import ALL, Config, Practice, Site
from recall.desk.core.rights import Role
from recall.desk.core.staff_row import StaffRow

EVERYWHERE = frozenset({Role.MANAGER, Role.JOBS, Role.NOBODY})
"""Who works for all sites until some are named for them."""


def own_site(sites: Sequence[Site], member: StaffRow) -> str:
    """Return the site at which somebody is; empty where it is not one of the practice's.

    Where the practice lists none, it is what was said of them.
    """
    return member.site if not sites or member.site in _handles(sites) else ""


def worked_for(sites: Sequence[Site], member: StaffRow) -> frozenset[str]:
    """Return the handles of the sites for which somebody works: all, where it cannot be said."""
    every = frozenset(_handles(sites))
    if ALL in member.sites:
        return every
    named = every & set(member.sites)
    if not named and member.role not in EVERYWHERE:
        named = every & {member.site}
    return named or every


def not_worked_for(sites: Sequence[Site], member: StaffRow) -> frozenset[str]:
    """Return the handles of the sites for which somebody does not work."""
    return frozenset(_handles(sites)) - worked_for(sites, member)


def named(sites: Sequence[Site], handles: frozenset[str]) -> str:
    """Return some sites by their names, in the order of the configuration.

    >>> of = dict(address=("1 Row",), postcode="WF99 4ZZ", phone="01632 960100")
    >>> two = [Site(handle=h, name=f"{h.capitalize()} site", **of) for h in ("north", "south")]
    >>> named(two, frozenset({"south", "north"}))
    'North site and South site'
    """
    names = [one.name for one in sites if one.handle in handles]
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def practice_at(config: Config, handle: str) -> Practice:
    """Return the practice as it is at a site: its name, address, phone and opening hours there.

    As a whole, for whoever belongs to no site that is listed.
    """
    ours = config.practice
    for one in config.sites:
        if one.handle == handle:
            hours = one.opening_hours, one.opening_hours_in
            own = hours if one.opening_hours else (ours.opening_hours, ours.opening_hours_in)
            return msgspec.structs.replace(
                ours,
                name=f"{ours.name}, {one.name}",
                address=one.address,
                postcode=one.postcode,
                phone=one.phone,
                opening_hours=own[0],
                opening_hours_in=own[1],
            )
    return ours


def _handles(sites: Sequence[Site]) -> list[str]:
    return [one.handle for one in sites]
