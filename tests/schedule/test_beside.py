"""What gives way to an emergency of the same canal, and what never does."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.case import Case, Reported, Visit
from recall.care.ear import Ear
from recall.protocol.loading import load
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
