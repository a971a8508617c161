"""What of the configuration says how much follow-up the practice can give, and on which days."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, get_args

import msgspec

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)
"""Monday first, so that an index is `date.weekday()`."""
Text = Annotated[str, msgspec.Meta(min_length=1)]


class Section(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, rename={"from_": "from"}
):
    """What every section of the file shares."""


class Closure(Section, frozen=True, kw_only=True):
    """Days on which the practice is closed, first and last included."""

    from_: date
    to: date | None = None
    """Left out for a single day."""
    why: str = ""

    def __post_init__(self) -> None:
        """Refuse a closure that ends before it begins."""
        if self.to is not None and self.to < self.from_:
            raise ValueError("`to` is before `from`")


Minutes = Annotated[int, msgspec.Meta(ge=0, le=480)]


class DoneIn(Section, frozen=True, kw_only=True):
    """How many minutes of an appointment each thing takes: common practice, no source."""

    otoscopy: Minutes = 10
    hearing_test: Minutes = 20
    tympanometry: Minutes = 5
    clear_wax: Minutes = 20
    clean: Minutes = 20
    call: Minutes = 5
    ask_after_care: Minutes = 5


class StepsIn(Section, frozen=True, kw_only=True):
    """How many minutes each contact step takes, by what records it: common practice, no source."""

    booked: Minutes = 3
    looked: Minutes = 2
    posted: Minutes = 2
    contact: Minutes = 5
    address_checked: Minutes = 5
    gp_told: Minutes = 5
    attendance: Minutes = 1
    visit: Minutes = 5
    decided: Minutes = 5
    """A step that ends in a decision or another act than its own."""


class Rota(Section, frozen=True, kw_only=True):
    """One practitioner's usual week for follow-up, at one site where they work at several."""

    who: Text
    site: str = ""
    """Its handle or name; left out, the site of whoever it is."""
    minutes: dict[Weekday, Minutes]
    does: tuple[Literal["otoscopy", "hearing_test", "tympanometry", "clear_wax", "clean"], ...] = ()
    """What they do; left out, whatever the practice does."""
    away: tuple[Closure, ...] = ()


class Capacity(Section, frozen=True, kw_only=True):
    """How much follow-up the practice can give: its rota, or so many appointments a week."""

    per_week: Annotated[int, msgspec.Meta(ge=0)] = 100
    """Where no rota is given."""
    appointment: Annotated[int, msgspec.Meta(ge=1, le=480)] = 20
    """Minutes of one of those."""
    minutes: DoneIn = DoneIn()
    steps: StepsIn = StepsIn()
    rota: tuple[Rota, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a practitioner who stands on the rota twice for one site."""
        names = [(one.who.lower(), one.site.casefold()) for one in self.rota]
        if len(set(names)) < len(names):
            raise ValueError("`rota` names somebody twice; one line for each site")
