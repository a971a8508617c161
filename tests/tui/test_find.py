"""Finding anybody, and one person's screen, by keys."""

from __future__ import annotations

import pytest

from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.desk.people.ringing_back import who_rings
from recall.desk.worklists import call_card
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.words.text import full_day


def somebody(desk: Desk, place: int = 0) -> person_card.PersonCard:
    """Return the person of one of the calls."""
    card = call_card.call_cards(desk, call_card.order(desk)[place : place + 1])[0]
    return person_card.person(desk, card.reference)


@pytest.mark.parametrize("by", ["family", "reference", "born", "postcode", "phone"])
def test_found_by_whatever_they_say(by: str, app: DeskApp, desk: Desk) -> None:
    card = somebody(desk)
    ways = {way.kind: way for way in card.contact_points}
    said = {
        "family": card.name.split()[-1].upper(),
        "reference": card.ref.lower(),
        "born": f"{card.born:%d.%m.%y}",
        "postcode": (ways["address"].postcode or "").replace(" ", "").lower(),
        "phone": ways["phone"].raw,
    }

    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type(said[by])
        line = next(line for line in driver.lines if card.ref in line)
        assert full_day(card.born) in line
        assert (ways["address"].postcode or "") in line

    drive(app, steps)


def test_a_letter_wrong_still_finds(app: DeskApp, desk: Desk) -> None:
    card = somebody(desk)
    family = card.name.split()[-1]
    assert len(family) > 4
    misspelt = family[:-2] + "q" + family[-1]

    async def steps(driver: Driver) -> None:
        await driver.press("slash")
        await driver.type(misspelt)
        assert card.ref in driver.text

    drive(app, steps)


def test_nobody_is_said(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type("qqqqqq")
        assert "Nobody." in driver.words

    drive(app, steps)


def open_person(card: person_card.PersonCard) -> tuple[str, ...]:
    return ("f4", *card.ref.lower(), "enter")


def test_find_is_for_the_next_caller_whoever_was_left_open(app: DeskApp, desk: Desk) -> None:
    """A person left open there would take the letters of the next name for commands."""
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card), "f3", "f4")
        assert driver.where == "FindScreen"
        await driver.type("qqqqqq")
        assert driver.app.screen.query_one("#asked").value == "qqqqqq"  # type: ignore[attr-defined]
        await driver.press("f3", "f4")
        await driver.type(card.ref)
        assert card.ref in driver.text

    drive(app, steps)


def test_the_person_shows_everything(clinician: DeskApp, desk: Desk) -> None:
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card))
        assert driver.where == "PersonScreen"
        assert card.name in driver.words
        assert full_day(card.born) in driver.text
        assert "follow-up" in driver.text
        await driver.press("2")
        assert "right ear" in driver.text
        assert "left ear" in driver.text
        await driver.press("3")
        assert "How to reach them" in driver.text
        await driver.press("4", "5", "escape")
        assert driver.where == "FindScreen"

    drive(clinician, steps)


def test_what_was_seen_is_not_shown_where_nobody_examines(app: DeskApp, desk: Desk) -> None:
    """Reception reads when somebody was seen and what may be said aloud, as on the day's list."""
    card = somebody(desk)
    whole = person_card.person(desk, card.ref, clinical=True)
    assert any(visit.right or visit.left for visit in whole.visits) and whole.follow_ups

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card))
        assert all(said in driver.words for one in whole.follow_ups for said in one.says_aloud)
        assert not any(said in driver.words for one in whole.follow_ups for said in one.says)
        assert not any(caution in driver.words for caution in whole.cautions)
        await driver.press("2")
        assert "What was seen in the ears is shown to whoever examines them." in driver.words
        assert f"{full_day(whole.visits[0].on)}, seen by" in driver.words
        assert "right ear │" not in driver.words and "drum seen" not in driver.words
        await driver.press("e")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps, (80, 40))


def test_wide_terminals_show_the_ears_beside(clinician: DeskApp, desk: Desk) -> None:
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card))
        assert "right ear" in driver.text
        assert "follow-up" in driver.text

    drive(clinician, steps, (120, 40))


def test_needs_are_changed(app: DeskApp, desk: Desk) -> None:
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card), "n", "tab", "right", "tab")
        await driver.type("hearing loop; step-free room")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)

    changed = person_card.person(desk, card.ref)
    assert changed.format == "large"
    assert changed.needs == ("hearing loop", "step-free room")


def test_a_number_a_risk_and_an_adult_are_added(app: DeskApp, desk: Desk) -> None:
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card), "c")
        place = next(line for line in driver.lines if "Add a number" in line).split()[1]
        await driver.press(place)
        await driver.type("07700 900999")
        await driver.press("tab", "tab", "tab", "right", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        await driver.press("r", "1", "d", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        await driver.press("a", "1")
        await driver.type("Nell Marsh")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)

    changed = person_card.person(desk, card.ref)
    assert [w.safe for w in changed.contact_points if w.raw == "07700 900999"] == ["only_this"]
    assert len(changed.risks) == len(card.risks) + 1
    assert "Nell Marsh" in [adult.name for adult in changed.adults]


def test_a_death_is_not_recorded_by_a_slip(app: DeskApp, desk: Desk) -> None:
    """A wrong name, a part of it, or Enter alone records nothing; the whole name does."""
    card = somebody(desk)

    async def steps(driver: Driver) -> None:
        await driver.press(*open_person(card), "x", "enter", "enter")
        assert driver.where == "Form"
        await driver.type(card.name.split()[-1])
        await driver.press("ctrl+s")
        assert driver.where == "Form"
        assert "Nothing is written yet under “Died on”." in driver.words
        await driver.type("7/9")
        await driver.press("ctrl+s")
        assert driver.where == "Form"
        assert "is not that of" in driver.words
        await driver.press("ctrl+u")
        await driver.type(card.name)
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert "! Do not contact: has died" in driver.words

    drive(app, steps)

    assert not [
        s
        for s in call_card.call_cards(desk, call_card.order(desk))
        if s.reference == card.ref and s.number
    ]


def test_what_may_be_typed_is_said_whole_on_the_smallest_screen(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        assert sum("a postcode or a reference" in line for line in driver.lines) == 2

    drive(app, steps)


def test_enter_right_after_what_was_typed_opens_whom_it_names(app: DeskApp, desk: Desk) -> None:
    """A quick hand, or a scanner of references, is sooner than the list of what it typed."""
    before, meant = somebody(desk), somebody(desk, 5)
    assert before.ref != meant.ref

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *before.ref.lower())
        assert before.ref in driver.text
        await driver.press("f2", "f4")
        await driver.burst(*meant.ref.lower(), "enter")
        assert driver.where == "PersonScreen"
        assert meant.name in driver.text
        assert before.ref not in driver.text

    drive(app, steps)


def test_enter_right_after_a_name_of_several_shows_them_to_be_read(
    app: DeskApp, desk: Desk
) -> None:
    names = sorted({card.name.split()[-1] for card in (somebody(desk, n) for n in range(12))})
    text = next(n[:3].lower() for n in names if len(who_rings(desk, n[:3], 9)) > 1)

    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.burst(*text, "enter")
        assert driver.where == "FindScreen"
        assert "people" in driver.text
        await driver.settle()
        driver._send("enter")
        await driver.settle()
        assert driver.where == "FindScreen", "nobody reads a list that quickly"
        await driver.press("enter")
        assert driver.where == "PersonScreen"

    drive(app, steps)
