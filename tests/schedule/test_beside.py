"""What gives way to an emergency of the same canal, and what never does."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.case import Case, Reported, Risk, UnderCare, Visit
from recall.care.ear import Ear
from recall.protocol.loading import load
from recall.schedule.beside import heard_alone
from recall.schedule.planning import plan

DAY = date(2026, 11, 30)


def referred(ear: Ear, *said: Reported) -> set[tuple[str, str]]:
    case = Case(born=date(1970, 1, 1), visits=(Visit(on=DAY, left=ear, reported=said),))
    found = plan(case, load(), DAY).referrals
    return {(one.to, reason.rule) for one in found for reason in one.reasons}


@pytest.mark.parametrize("cellulitis", [False, True])
def test_skin_that_may_be_cancer_goes_to_the_gp_whatever_else_presses(cellulitis: bool) -> None:
    """A suspicious lesion is referred on the suspected-cancer way at once: references 13.4.

    Found by the random properties, as infection that spreads took the other referral away.
    """
    found = referred(Ear(pinna_lesion=True, cellulitis=cellulitis))

    assert ("gp", "pinna-lesion") in found


def test_an_infected_canal_that_ent_sees_today_is_not_sent_to_the_gp_as_well() -> None:
    pain = Reported(what="pain", ear="left", since=DAY.isoformat())
    ill = Ear(canal_skin="inflamed")

    assert ("gp", "canal-untreated") in referred(ill, pain)
    spreading = referred(Ear(canal_skin="inflamed", cellulitis=True), pain)
    assert ("ent", "cellulitis") in spreading
    assert ("gp", "canal-untreated") not in spreading


def advised(ear: Ear, *care: UnderCare, said: tuple[Reported, ...] = ()) -> set[str]:
    visits = (Visit(on=DAY, left=ear, reported=said),)
    case = Case(born=date(1970, 1, 1), visits=visits, under_care=care)
    return {one.rule for one in plan(case, load(), DAY).advice}


def test_nothing_is_called_common_in_an_ear_that_is_referred_or_looked_at_elsewhere() -> None:
    """Common practice, no source; found by a practitioner who read the plan of an attic pocket."""
    whole = {"drum_seen": "full", "attic_seen": True}
    slight = Ear(tensa_grade=1, **whole)  # type: ignore[arg-type]
    gap = Ear(tensa_grade=1, attic_crust=True, **whole)  # type: ignore[arg-type]
    ent = UnderCare(of="ent", track="retraction", ear="left", since="2026-11-01")

    assert "tensa-one-adult" in advised(slight)
    assert "tensa-one-adult" not in advised(gap)
    assert "tensa-one-adult" not in advised(gap, ent)


def test_what_somebody_else_has_under_care_speaks_as_loudly_as_a_referral() -> None:
    rules = {(rule.id, rule.version): rule for rule in load().rules}
    slight, worse = rules["tensa-one-adult", 3], rules["tensa-hearing-worse-refer", 1]

    assert heard_alone([("left", slight)], (), ()) == [("left", slight)]
    ent = UnderCare(of="ent")
    assert heard_alone([("left", slight)], (), (), [("right", worse, ent)]) == [("left", slight)]
    assert heard_alone([("left", slight)], (), (), [("left", worse, ent)]) == []


def test_beside_an_emergency_of_the_ear_nothing_else_is_said_of_its_canal() -> None:
    """A diabetic with granulation, pain and discharge: necrotising infection is suspected and seen
    the same day (references 13.3); nothing beside it that could be taken for the plan."""
    ill = Ear(canal_skin="inflamed", granulation=True, discharge="purulent", drum_seen="full")
    pain = Reported(what="severe_pain", ear="left", since="2026-11-20")
    diabetes = (Risk(what="diabetes"),)
    visits = (Visit(on=DAY, left=ill, reported=(pain, "itch", "blocked_feeling")),)
    made = plan(Case(born=date(1950, 1, 1), risks=diabetes, visits=visits), load(), DAY)

    assert {(one.to, one.urgency) for one in made.referrals} == {("ent", "emergency")}
    assert not [a for a in made.advice if "left" in a.ears]


def test_what_keeps_from_harm_is_said_beside_an_emergency() -> None:
    operated = Ear(cellulitis=True, wax_left="occluding", perforation="central")

    assert "no-drops" in advised(operated)
    assert "canal-treated-advice" not in advised(operated)


def test_nobody_is_told_to_use_drops_for_days_who_is_seen_at_once() -> None:
    """Found by a practitioner: a sudden loss behind wax went to ENT, with drops for five days."""
    blocked = Ear(wax_found="occluding", wax_left="occluding", clearance="failed")
    sudden = Reported(what="sudden_hearing_loss", ear="left", since="2026-11-30")
    of_the_other = Reported(what="sudden_hearing_loss", ear="right", since="2026-11-30")

    assert "drops-first" in advised(blocked)
    assert "drops-first" not in advised(blocked, said=(sudden,))
    assert "drops-first" in advised(blocked, said=(of_the_other,))


def test_a_look_at_an_object_takes_in_the_look_for_the_drum_behind_it() -> None:
    """Common practice, no source: one visit, and not answered before the drum was seen."""
    bead = Visit(on=DAY, left=Ear(foreign_body="other", drum_seen="none"))
    out = Visit(on=date(2026, 12, 4), left=Ear(foreign_body="none", clearance="cleared"))
    seen = Visit(on=date(2026, 12, 7), left=Ear(foreign_body="none", drum_seen="full"))

    def dues(*visits: Visit) -> list[tuple[str, str]]:
        case = Case(born=date(1990, 1, 1), visits=visits)
        made = plan(case, load(), visits[-1].on)
        return [(due.rule, due.kind) for one in made.follow_ups for due in one.dues]

    assert dues(bead) == [("object-look", "recheck")]
    assert ("object-look", "recheck") in dues(bead, out)
    assert dues(bead, out, seen) == []
