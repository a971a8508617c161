"""What waits for a second look is seen and answered on the register's screen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from recall.care.case import Visit
from recall.desk.core.session import Desk, staff
from recall.desk.plans.adoption import adopt
from recall.desk.plans.loosening import loosened
from recall.desk.visits.closing import close_visit, void_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.desk.visits.milder import milder_lines
from recall.protocol.loading import Protocol, digest_of
from tests.desk.practice import FLUID, KERATIN, later, somebody, visit
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_manager import register
from tui.app import DeskApp

RULE = "fluid-child-look"


@pytest.fixture
def manager(app: DeskApp, practice: Path) -> DeskApp:
    """The desk with the clinical lead at it."""
    app._opening = lambda: opening(practice, "quill")
    return app


def test_a_milder_correction_is_seen_by_a_second_person(
    manager: DeskApp, desk: Desk, practice: Path
) -> None:
    somebody(desk, "T9001")
    others = [s.handle for s in staff(desk.store) if s.may_decide and s.handle != "quill"]
    yesterday = later(desk.acting_as(others[0]), -1)
    given = draft(yesterday, "T9001", Visit(on=yesterday.today, right=KERATIN))
    number = close_visit(yesterday, given, Acceptance(looked=True)).visit_id
    void_visit(yesterday, number, "Somebody else's ears.")
    waiting = milder_lines(desk)

    async def steps(driver: Driver) -> None:
        assert f"{len(waiting)}  lines made milder, for a second person" in driver.text
        await register(driver)
        await driver.press("0")
        assert "what presses less" in driver.text
        assert "T9001" in driver.text and "Somebody else's ears." in driver.words
        await driver.press("i")
        assert f"for a second person: {len(waiting)}; 0 shows them" in driver.words
        await driver.press("0", "w")
        assert "Seen by a second person" in driver.words

    drive(manager, steps)

    assert len(milder_lines(desk)) == len(waiting) - 1


@pytest.mark.parametrize(("key", "answer"), [("g", "taken"), ("y", "left")])
def test_what_adopted_rules_ask_less_is_answered_as_a_group(
    manager: DeskApp, desk: Desk, key: str, answer: str
) -> None:
    lead = desk.acting_as("quill")
    visit(lead, somebody(lead, "T9001"), right=FLUID)
    file = lead.protocol.file
    ended = tuple(
        msgspec.structs.replace(r, until=lead.today)
        if r.id == RULE and (r.until is None or r.until > lead.today)
        else r
        for r in file.rule
        if not (r.id == RULE and r.since >= lead.today)
    )
    changed = msgspec.structs.replace(file, rule=ended)
    digest = digest_of(changed, lead.protocol.contact)
    new = Protocol(changed, lead.protocol.contact, digest, False)
    adopt(replace(lead, protocol=Protocol(file, new.contact, "before", False)), new)
    assert [each.rule for each in loosened(lead)] == [RULE]

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("v")
        assert "such as" in driver.text and RULE in driver.text
        await driver.press(key)
        await driver.type("Agreed with the team.")
        await driver.press("ctrl+s")
        assert f"{RULE}: 1 line" in driver.words or RULE in driver.words

    drive(manager, steps)

    assert loosened(lead) == ()


def test_the_rules_have_heads_over_their_columns(manager: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("9")
        (heads,) = [line for line in driver.lines if "it was there" in line]
        assert "asked" in heads and "looks" in heads and "referrals" in heads
        row = next(line for line in driver.lines if "% found" in line)
        assert heads.index("it was there") + len("it was there") == row.index("% found") + 7
        await driver.press("1")
        assert "it was there" not in driver.text

    drive(manager, steps)
