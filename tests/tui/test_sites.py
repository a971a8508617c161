"""A day in a practice of two sites with one register, by real keys."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import select, update

from recall.clock import Clock
from recall.config import load
from recall.desk.core.narrowing import narrowed
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow
from recall.desk.practice.staff import add_staff, set_sites
from recall.desk.worklists.call_card import order
from recall.records import tables
from recall.records.tables.statements import table_of
from tests.tui.conftest import ON, opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

SITES = """
[[sites]]
handle = "north"
name = "North site"
address = ["4 Tanner's Row", "Wrenfield"]
postcode = "WF99 4ZZ"
phone = "01632 960100"

[[sites]]
handle = "south"
name = "South site"
address = ["2 Weir Street", "Nether Wrenfield"]
postcode = "WF99 5WE"
phone = "01632 960155"
"""


@pytest.fixture
def group(practice: Path, desk: Desk) -> Path:
    """The same practice with two sites: every other person is of the south, some of neither.

    nell is of the north alone; lund works for both.
    """
    practice.write_text(practice.read_text("utf-8") + SITES, encoding="utf-8")
    clock = Clock.at(ON)
    nell = StaffRow(0, "nell", "Nell Abbot", Role.RECEPTION, site="north")
    add_staff(desk.store, clock, nell, by="quill")
    set_sites(desk.store, clock, "lund", own="north", sites=("all",), by="quill")
    p = table_of(tables.Person)
    with desk.store.write() as session:
        numbers = session.scalars(select(p.c.id).order_by(p.c.id)).all()
        for site, some in (("north", numbers[::3]), ("south", numbers[1::3])):
            session.execute(update(p).where(p.c.id.in_(some)).values(site=site))
    return practice


def at(app: DeskApp, group: Path, who: str) -> DeskApp:
    app._opening = partial(opening, group, who)
    return app


def to_ring(group: Path, who: str, site: str = "") -> int:
    opened = opening(group, who)
    try:
        return len(order(narrowed(opened, site)))
    finally:
        opened.close()


def head(driver: Driver) -> str:
    return driver.lines[0]


async def choose_site(driver: Driver, choice: str) -> None:
    """Look for the command by its name, and choose."""
    await driver.press("ctrl+p")
    await driver.type("sites")
    await driver.press("enter", choice)


def test_lists_are_narrowed_to_one_site_and_widened_again(app: DeskApp, group: Path) -> None:
    everybody, south = to_ring(group, "lund"), to_ring(group, "lund", "south")
    assert 0 < south < everybody

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert "all sites" in head(driver) and f"{everybody} left" in head(driver)
        await choose_site(driver, "3")
        assert "South site" in head(driver) and f"{south} left" in head(driver)
        await driver.press("f2")
        assert "South site" in head(driver)
        await driver.press("f5")
        assert "South site" in head(driver)
        await choose_site(driver, "1")
        assert "all sites" in head(driver)
        await driver.press("f3")
        assert f"{everybody} left" in head(driver)

    drive(at(app, group, "lund"), steps)


def test_whoever_works_for_one_site_sees_its_people_and_has_nothing_to_choose(
    app: DeskApp, group: Path
) -> None:
    north = to_ring(group, "nell")

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert "North site" in head(driver) and f"{north} left" in head(driver)
        await driver.press("ctrl+p")
        await driver.type("sites")
        await driver.press("enter")
        assert "You work for one site: North site." in driver.words

    drive(at(app, group, "nell"), steps)


def of_south(desk: Desk) -> tuple[str, str, str]:
    """Somebody of the south whom reception is to ring: reference, given and family name."""
    p, f = tables.Person, tables.FollowUp
    wanted = (
        select(p.ref, p.given_names, p.family_name)
        .join(f, f.person_id == p.id)
        .where(p.site == "south", p.family_name.regexp_match("^[A-Z][a-z]+$"))
        .where(f.id.in_(order(desk)), p.deceased_on.is_(None))
        .order_by(p.id)
    )
    with desk.store.read() as session:
        ref, given, family = session.execute(wanted.limit(1)).one()
    return ref, given, family


def test_whoever_rings_the_wrong_site_is_found_and_helped_and_no_more(
    app: DeskApp, group: Path, desk: Desk
) -> None:
    ref, given, family = of_south(desk)

    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type(f"{given} {family}")
        await driver.press("enter")
        assert driver.where == "PersonScreen" and ref in driver.text
        await driver.press("n", "tab", "ctrl+s")
        await driver.type("x")
        await driver.press("ctrl+s")
        assert f"{ref} belongs to South site, for which nell does not work." in driver.words
        await driver.press("escape", "p", "4")
        await driver.type("Rang about the appointment")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen"

    drive(at(app, group, "nell"), steps)
    with desk.store.read() as session:
        m = tables.Matter
        assert session.scalars(select(m.text)).all() == ["Rang about the appointment"]


def test_somebody_new_is_of_the_desks_own_site(app: DeskApp, group: Path, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f2", "n")
        assert "Site" in driver.words and "North site" in driver.words
        await driver.type("Marlowe-Quist")
        await driver.press("tab")
        await driver.type("Wilhelmina")
        await driver.press("tab")
        await driver.type("3/4/1950")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen"

    drive(at(app, group, "nell"), steps)
    with desk.store.read() as session:
        p = tables.Person
        found = session.scalar(select(p.site).where(p.family_name == "Marlowe-Quist"))
    assert found == "north"


def test_one_place_has_no_word_of_sites(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for key in ("f2", "f3", "f4", "f5", "f6", "f7", "f8"):
            await driver.press(key)
            assert "site" not in driver.text.casefold().replace("website", "")
        await driver.press("f2", "n")
        assert "site" not in driver.text.casefold()
        await driver.press("escape", "ctrl+p")
        await driver.type("sites")
        assert "No command here is called so." in driver.words

    drive(app, steps)


def test_the_settings_are_read(group: Path) -> None:
    assert [one.name for one in load(group).sites] == ["North site", "South site"]
