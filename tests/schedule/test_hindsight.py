"""What a look found, and what a person's own history would have been under other rules."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest

from recall.care.case import Case, Visit
from recall.care.ear import Ear
from recall.protocol.loading import Protocol, load
from recall.schedule.found import findings_of, found_by
from recall.schedule.hindsight import _would_show, history_under
from tests.protocol.versions import at_first
from tests.records.build import due

FIRST = date(2024, 1, 8)
CHILD = date(2019, 5, 1)
FLUID = Ear(drum_seen="full", attic_seen=True, effusion="present", tensa_grade=0, attic_grade=0)
RETRACTED = msgspec.structs.replace(FLUID, tensa_grade=2)


def fluid_then(*more: Ear, days: int = 50) -> Case:
    """A child seen with fluid, then every so many days."""
    ears = (FLUID, *more)
    visits = [Visit(on=FIRST + timedelta(days * n), right=ear) for n, ear in enumerate(ears)]
    return Case(born=CHILD, visits=tuple(visits))


def with_early_look(target: str, latest: str) -> Protocol:
    """The rules as they first were, with the early look at fluid moved."""
    old = at_first()
    rules = tuple(
        msgspec.structs.replace(
            r, ask=msgspec.structs.replace(r.ask, earliest="4 weeks", target=target, latest=latest)
        )
        if r.id == "fluid-child-look"
        else r
        for r in old.rules
    )
    return Protocol(msgspec.structs.replace(old.file, rule=rules), old.contact, "other", True)


def test_what_a_healthy_ear_shows_is_no_finding() -> None:
    healthy = Ear(
        examined=True,
        wax_found="some",
        wax_left="none",
        drum_seen="part",
        attic_seen=True,
        effusion="absent",
        tensa_grade=0,
        perforation="healed",
        canal_skin="normal",
        treated=True,
        hearing_after="worse",
        hearing_screen="passed",
        hearing_dB={"500": 15, "1000": 15, "2000": 15, "4000": 20},
    )

    assert findings_of(healthy) == ()


def test_a_loss_is_found_from_20_db_on() -> None:
    """World report on hearing (WHO 2021), table 1.1: normal below 20 dB, mild from 20 to 34.9."""
    level = {"500": 20, "1000": 20, "2000": 20, "4000": 20}
    below = {**level, "500": 15}

    assert [f.words for f in findings_of(Ear(hearing_dB=level))] == ["loss of 20 dB"]
    assert findings_of(Ear(hearing_dB=below)) == ()
    assert [f.words for f in findings_of(Ear(hearing_screen="not_passed"))] == [
        "hearing screen not passed"
    ]


@pytest.mark.parametrize(
    ("needs", "words"),
    [
        (("fluid",), ["effusion present"]),
        (("wax",), ["wax found occluding"]),
        (("tensa", "attic"), ["tensa grade 2", "attic grade 1"]),
        (("drum",), ["effusion present", "tensa grade 2", "attic grade 1", "keratin"]),
        (("hearing",), []),
    ],
)
def test_a_look_finds_what_it_was_for(needs: tuple[str, ...], words: list[str]) -> None:
    ear = Ear(wax_found="occluding", effusion="present", tensa_grade=2, attic_grade=1, keratin=True)

    assert [f.words for f in found_by(needs, ear)] == words


def test_an_interval_twice_as_long_comes_to_half_the_appointments() -> None:
    """21 of 42 and of 84 days had passed: a half and a quarter of an appointment."""
    case, today = fluid_then(), FIRST + timedelta(days=21)
    six, twelve = with_early_look("6 weeks", "8 weeks"), with_early_look("12 weeks", "16 weeks")

    assert history_under(case, six, today).appointments == pytest.approx(0.5)
    assert history_under(case, twelve, today).appointments == pytest.approx(0.25)


def test_an_appointment_counts_once_however_long_nobody_came() -> None:
    case, six = fluid_then(), with_early_look("6 weeks", "8 weeks")

    for days in (42, 43, 400):
        found = history_under(case, six, FIRST + timedelta(days))
        assert found.appointments == 1


def test_what_was_new_or_worse_is_held_to_the_look_that_was_wanted_before() -> None:
    case = fluid_then(RETRACTED, FLUID, RETRACTED)

    found = history_under(case, with_early_look("6 weeks", "8 weeks"), date(2025, 1, 1))

    (one,) = found.discoveries
    assert (one.on, one.ear, one.found.words) == (case.visits[1].on, "right", "tensa grade 2")
    assert one.wanted_on == FIRST + timedelta(weeks=6)
    assert (one.asked_by, one.sent_to) == ("fluid-child-look", "")


def test_a_loss_is_only_found_by_a_test() -> None:
    """The look at fluid was wanted after 6 weeks; no hearing test was."""
    loss = {"500": 40, "1000": 40, "2000": 40, "4000": 40}
    case = fluid_then(msgspec.structs.replace(FLUID, hearing_dB=loss))

    (one,) = history_under(
        case, with_early_look("6 weeks", "8 weeks"), date(2025, 1, 1)
    ).discoveries

    assert (one.found.track, one.wanted_on) == ("hearing", None)


def test_referrals_are_counted_on_the_day_they_were_asked_for() -> None:
    keratin = Ear(drum_seen="full", attic_seen=True, attic_grade=3, keratin=True)
    case = fluid_then(keratin, keratin)

    found = history_under(case, load(), date(2025, 1, 1))

    assert (found.referrals, found.pressing) == (1, 1)


@pytest.mark.parametrize(
    ("needs", "shows_loss", "shows_grade"),
    [
        (("hearing",), True, False),
        (("hearing", "trace"), True, True),
        (("fluid",), False, True),
        ((), False, True),
    ],
)
def test_a_test_alone_shows_a_loss_and_nothing_else(
    needs: tuple[str, ...], shows_loss: bool, shows_grade: bool
) -> None:
    (loss,) = findings_of(Ear(hearing_dB={"500": 40, "1000": 40, "2000": 40, "4000": 40}))
    (grade,) = findings_of(Ear(tensa_grade=2))

    assert _would_show(due(needs=needs), loss) is shows_loss
    assert _would_show(due(needs=needs), grade) is shows_grade
