"""The desk: the register with everything that acting on it needs, and who acts.

Every function of this room takes a `Desk` first, so that who and today always travel
along. Opening one checks the configuration, the database and the protocol.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import msgspec
from sqlalchemy import select

from recall.clock import Clock
from recall.config import Config
from recall.cycle.population import Population
from recall.desk.core.adopted_rules import adopted, adopted_row, sign_offs
from recall.desk.core.opening import open_register
from recall.desk.core.proof import BY_NAME, Proof, Way, proven, signs_in
from recall.desk.core.rights import ROLE_WORDS, Right, Role, has_right
from recall.desk.core.staff_row import StaffRow as StaffRow
from recall.desk.core.staff_row import staff as staff
from recall.desk.core.staff_row import staff_member as staff_member
from recall.desk.core.staff_row import who_examine as who_examine
from recall.desk.core.watch import Watch
from recall.errors import InputError, RecallError, Refused, StorageError
from recall.exchange.holidays_source import practice_calendar
from recall.protocol.capabilities import Able, Capabilities
from recall.protocol.loading import Protocol, load, short_digest
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import head_file
from recall.records.ledger.storing import Who
from recall.schedule.calendar import Calendar, say_day

JOBS = "jobs"
"""The handle of the row that the jobs act as."""
NOBODY = "nobody"
"""Whoever looks at a list without saying who they are; such a desk cannot write."""


def signs_as(member: StaffRow) -> str:
    """Return what stands below somebody's name in a letter: title or role, and registration."""
    words = member.title or ROLE_WORDS[member.role]
    return f"{words}, {member.registration}" if member.registration else words


@dataclass(frozen=True)
class Desk:
    """The open register, the practice's settings, and who acts on which day."""

    store: Store
    config: Config
    protocol: Protocol
    calendar: Calendar
    clock: Clock
    by: StaffRow
    populations: tuple[Population, ...] = ()
    """How wax comes back in this practice, as worked out on each day, oldest first."""
    file_digest: str = ""
    """Of the protocol file, where it is not the one that was adopted; the adopted one is used."""
    alarm: str = ""
    """What is wrong with the history beside its head, which is kept outside the database."""
    together: str = ""
    """The mark of what is done to several in one go, so that it is taken back in one go."""

    only_site: str = ""
    """The one site to which lists are narrowed; empty: all for which whoever acts works."""
    without_a_site: bool = True
    """Whether lists of one site hold those who belong to none, and so to all."""
    is_signed: bool = False
    """Whether whoever acts proved who they are."""
    place: str = ""
    """From where: screen, command or job."""
    in_hand: Sequence[datetime] | None = None
    """Until when whoever is in hand at this screen is; None: not a screen, a name has one hand."""

    def as_one(self) -> Desk:
        """Return the same desk for something done to several, which is taken back as one."""
        return replace(self, together=secrets.token_hex(8))

    @property
    def today(self) -> date:
        """Return the day acted for: the practice's local date where no other was given."""
        return self.clock.today()

    @property
    def now(self) -> datetime:
        """Return the present instant, in UTC."""
        return self.clock.now().astimezone(UTC)

    @property
    def who(self) -> Who:
        """Return who stores, when and for which day, as the records want it."""
        return Who(self.by.id, self.now, self.today)

    def acting_as(self, handle: str) -> Desk:
        """Return the same desk with somebody else acting, where a name alone is believed.

        Raises:
            Refused: here everybody signs in.
        """
        if self.is_signed and handle.lower() != self.by.handle:
            raise Refused(f"{handle} has not signed in here.", hint=f"{self.by.handle} has.")
        return self.acting_for(staff_member(self.store, handle, self.today))

    def looking_ahead(self) -> Desk:
        """Return the desk as it is, or one that writes nothing where its day has not come yet.

        Whoever acts on a day to come would hide from every list what is due until then.
        """
        if self.clock.has_begun(self.today):
            return self
        return replace(self, store=replace(self.store, ahead=say_day(self.today)))

    def acting_for(self, member: StaffRow) -> Desk:
        """Return the same desk with this member of staff acting."""
        return replace(self, by=member, only_site="")

    def allows(self, right: Right) -> bool:
        """Return whether whoever acts has a right."""
        return has_right(self.by.role, right)

    def require(self, right: Right) -> None:
        """Refuse where whoever acts lacks a right.

        Raises:
            Refused: they may not, with who may.
        """
        if self.allows(right):
            return
        here = [s for s in staff(self.store) if not s.left_on and s.role is not Role.JOBS]
        able = ", ".join(s.handle for s in here if has_right(s.role, right))
        raise Refused(
            f"{self.by.handle} ({ROLE_WORDS[self.by.role]}) may not {right}.",
            hint=f"It needs one of: {able or 'nobody yet; see recall staff add --role'}.",
        )

    def watch(self) -> Watch:
        """Listen from now on for anybody who writes; whoever asks for it closes it."""
        return Watch(self.store)

    def close(self) -> None:
        """Close the register; the last link of its history is left outside."""
        if not self.alarm and not self.store.is_newer:
            with suppress(RecallError), self.store.read() as session:
                head_file.bring_up(session, self.store.path)
        self.store.close()


def open_desk(
    config: Config,
    *,
    by: str | None = None,
    on: date | None = None,
    reading: bool = False,
    clock: Clock | None = None,
    way: Way = BY_NAME,
) -> Desk:
    """Open the register for somebody.

    Args:
        config: the practice's settings.
        by: the staff handle; the configuration's default where left out.
        on: a day to act for or look at in the place of today; it never sets an instant.
        reading: lists may be looked at without saying who one is.
        clock: for tests and invented practices alone, in the place of the machine's.
        way: how somebody comes to the desk, and their proof where everybody signs in.

    Raises:
        StorageError: no database, or one of another version.
        InputError: nobody was named.
        NotFound: no such member of staff.
        Refused: everybody signs in here, and nobody has, or it is somebody else.
    """
    zone = config.calendar.time_zone
    clock = (clock or Clock(zone)).acting_for(on)
    in_file = load(config.files.protocol, config.files.sign_off)
    store = open_register(config.files)
    try:
        signs, proof = signs_in(config, store), way.proof
        if not signs:  # nobody who has left acts for a day before
            here = clock.day_of(clock.now())
            proof = _by_name(by or config.staff.default, here, reading)
        member = proven(store, Clock(zone, clock.fixed), by, proof)
        opened = _opened(store, config, in_file, clock, member)
    except BaseException:
        store.close()
        raise
    return replace(opened, is_signed=signs, place=way.place)


def open_by_name(config: Config, by: str, clock: Clock) -> Desk:
    """Open the register for somebody whose right the caller has looked at, without their proof.

    Raises:
        StorageError: no database, or one of another version.
        NotFound: no such member of staff.
    """
    in_file = load(config.files.protocol, config.files.sign_off)
    store = open_register(config.files)
    try:
        member = staff_member(store, by, clock.today())
        return _opened(store, config, in_file, clock, member)
    except BaseException:
        store.close()
        raise


def _opened(
    store: Store, config: Config, in_file: Protocol, clock: Clock, member: StaffRow
) -> Desk:
    today = clock.day_of(clock.now())
    protocol = adopted(store, in_file, sign_offs(config.files), today).used_with(
        capabilities_of(config), config.changeover.went_live
    )
    alarm = _compared_with_head(store)
    other_file = in_file.digest if protocol.digest != in_file.digest else ""
    calendar = _calendar(config, clock.today().year)
    waxes = populations(store)
    return Desk(store, config, protocol, calendar, clock, member, waxes, other_file, alarm)


def _calendar(config: Config, year: int) -> Calendar:
    return practice_calendar(config.calendar, year - 1, year + 4)


def _compared_with_head(store: Store) -> str:
    """Compare the history with the link that is kept outside; bring that up where it agrees."""
    with store.read() as session:
        wrong = head_file.compare(session, store.path)
        if not wrong and not store.is_newer:
            head_file.bring_up(session, store.path)
    return wrong


def capabilities_of(config: Config) -> Capabilities:
    """Return what the practice could do on each day, as its settings say."""
    now = config.capabilities
    periods = [Able(since=old.since, **old.of_themselves()) for old in now.before]
    if now.since is not None:
        periods.append(Able(since=now.since, **now.of_themselves()))
    return Capabilities(periods)


def adopted_digest(config: Config) -> str:
    """Return the digest of the adopted protocol; empty where none is, or there is no register."""
    try:
        store = open_register(config.files)
    except StorageError:
        return ""
    try:
        row = adopted_row(store)
    finally:
        store.close()
    return row.digest if row is not None else ""


def differs(file_digest: str, adopted: str) -> str:
    """Say that the protocol file is not the adopted one; nothing where it is, or none is."""
    if not file_digest or not adopted or file_digest == adopted:
        return ""
    here, used = short_digest(file_digest), short_digest(adopted)
    return (
        f"The protocol file is not the adopted one, and changes nothing until it is adopted "
        f"(file {here}, adopted {used}): recall protocol compare, then adopt."
    )


def _by_name(handle: str, on: date, reading: bool) -> Proof:
    """Return the proof that a name alone is; only somebody who just looks may be nobody."""

    def named(store: Store, _clock: Clock) -> StaffRow:
        if handle.strip():
            return staff_member(store, handle.strip(), on)
        if reading:
            return StaffRow(0, NOBODY, "Nobody named", Role.NOBODY)
        raise InputError(
            "Nobody is named as acting.", hint="Add --by HANDLE, or staff.default to the file."
        )

    return named


def populations(store: Store) -> tuple[Population, ...]:
    """Return how wax comes back in this practice, as worked out on each day, oldest first."""
    c = tables.Population
    wanted = select(c.content).where(c.void_at.is_(None)).order_by(c.on, c.id)
    with store.read() as session:
        return tuple(_population(content) for content in session.scalars(wanted))


_population = msgspec.json.Decoder(Population).decode
