"""What became of referrals, from a file: each finds its referral, or goes back with what to do."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import ImportSummary, kind_of
from recall.desk.imports.proposing import propose
from recall.desk.imports.taken_back import TakenBack
from recall.desk.imports.taking_back import look_at_taking_back, take_back
from recall.desk.oversight.counts import counts
from recall.desk.plans.changeover import portion
from recall.desk.referrals import progress
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.changing_over import OLD, SEEN, WORN, history, live_desk
from tests.desk.files import counts as counted
from tests.desk.files import take_in, write
from tests.desk.practice import desk_at, history_is_whole, rows

SENT = {
    "person": "P1",
    "service": "ent",
    "ear": "right",
    "sent": "2024-03-28",
    "accepted": "",
    "seen": "",
    "result": "",
    "result_on": "",
    "ended": "",
    "ended_because": "",
    "under_care": "",
}


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    """Somebody with a worn pocket, long before the practice went live."""
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD, **WORN, **SEEN)
    return desk


def taken(desk: Desk, folder: Path, takes_away: int | None = None, **more: str) -> ImportSummary:
    return take_in(desk, folder, "referrals", {**SENT, **more}, takes_away=takes_away)


def sent_back(summary: ImportSummary) -> str:
    assert summary.rejected and summary.rejects_path
    return summary.rejects_path.read_text("utf-8-sig")


def ent(desk: Desk) -> tuple[bool, str | None]:
    (row,) = rows(desk.store, tables.Referral, to="ent")
    return row["is_open"], row["end_reason"]


def test_a_result_closes_the_referral_and_takes_it_out_of_the_history(
    desk: Desk, tmp_path: Path
) -> None:
    before = counts(desk).history
    told = {"seen": "2024-04-10", "result": "Clear, discharged", "result_on": "2024-04-20"}
    assert counted(taken(desk, tmp_path, **told)) == (1, 0, 0, 0)
    assert ent(desk) == (False, "result_back")
    assert counts(desk).history == before - 1
    assert counted(taken(desk, tmp_path, **told)) == (0, 0, 1, 0), "the same again changes nothing"
    assert history_is_whole(desk.store)


def test_it_ends_what_was_found_until_the_day_that_the_file_tells(
    desk: Desk, tmp_path: Path
) -> None:
    taken(desk, tmp_path, seen="2024-04-10", result="Clear", result_on="2024-04-20")

    (ended,) = rows(desk.store, tables.Decision, to="ent")
    assert (ended["on"], ended["until"]) == (desk.today, date(2024, 4, 20))


def test_what_is_known_but_not_over_waits_with_what_is_known(desk: Desk, tmp_path: Path) -> None:
    taken(desk, tmp_path, accepted="2024-04-02")
    assert ent(desk) == (True, None)
    (line,) = [line for line in portion(desk).lines if "ENT" in line.what]
    assert line.known == "sent 2024-03-28, accepted 2024-04-02"


def test_one_that_ended_without_a_result_needs_the_number_shown(desk: Desk, tmp_path: Path) -> None:
    ended = {"ended": "2024-06-01", "ended_because": "informed_decline"}
    with pytest.raises(Refused, match="1 × referral that would end"):
        taken(desk, tmp_path, **ended)
    assert ent(desk) == (True, None)
    taken(desk, tmp_path, takes_away=1, **ended)
    assert ent(desk) == (False, "informed_decline")


def test_whose_care_it_is_under_is_on_record(desk: Desk, tmp_path: Path) -> None:
    taken(desk, tmp_path, seen="2024-04-10", result="They follow it", under_care="yes")
    assert {row["person_id"] for row in rows(desk.store, tables.UnderCare)}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"person": "P9"}, "import the person first"),
        ({"service": "gp"}, "no referral that the register asks for"),
        ({"sent": "2023-01-01"}, "no referral that the register asks for"),
        ({"ear": "left"}, "no referral that the register asks for"),
        ({"seen": "2024-03-01"}, "is before the day in sent"),
        ({"ended": "2024-06-01"}, "both the day it ended and why"),
        ({"result_on": "2024-06-01"}, "what they found"),
        ({"service": "hospital"}, "is not a known word"),
    ],
)
def test_what_cannot_be_placed_goes_back_with_what_to_do(
    desk: Desk, tmp_path: Path, more: dict[str, str], said: str
) -> None:
    before = counts(desk).history
    assert said in sent_back(taken(desk, tmp_path, **more))
    assert counts(desk).history == before


def test_what_the_desk_recorded_stands(desk: Desk, tmp_path: Path) -> None:
    (row,) = rows(desk.store, tables.Referral, to="ent")
    progress.sent(desk, row["id"], None)
    back = sent_back(taken(desk, tmp_path, seen="2024-04-10", result="Clear"))
    assert "is followed at the desk already" in back
    assert ent(desk) == (True, None)


def test_a_stage_that_the_file_tells_no_more_is_taken_away_only_with_its_number(
    desk: Desk, tmp_path: Path
) -> None:
    taken(desk, tmp_path, accepted="2024-04-02")
    with pytest.raises(Refused, match="stage of a referral that would go"):
        taken(desk, tmp_path)
    taken(desk, tmp_path, takes_away=1)
    assert [e["what"] for e in rows(desk.store, tables.ReferralEvent, what="accepted")] == []


def test_a_result_that_the_file_withdraws_leaves_the_referral_open_again(
    desk: Desk, tmp_path: Path
) -> None:
    before = held(desk)
    taken(desk, tmp_path, seen="2024-04-10", result="Clear, discharged")
    taken(desk, tmp_path, takes_away=2)
    assert ent(desk) == (True, None)
    assert held(desk)["Due"] == before["Due"]
    assert rows(desk.store, tables.Decision) == []
    taken(desk, tmp_path, seen="2024-04-10", result="Clear")
    (decision,) = rows(desk.store, tables.Decision)
    assert (ent(desk), decision["why"]) == ((False, "result_back"), "Clear")


def held(desk: Desk) -> dict[str, list[Any]]:
    """All that stands of the loop, as far as a file of referrals can touch it."""
    kinds = tables.Referral, tables.ReferralEvent, tables.Decision, tables.UnderCare
    told = {kind.__tablename__: [dict(row) for row in rows(desk.store, kind)] for kind in kinds}
    for row in told["referral"]:
        row.pop("version")
    told["referral_event"] = [
        row for row in told["referral_event"] if row["what"] not in ("reopened", "no_longer_asked")
    ]
    told["Due"] = sorted(
        (due["person_id"], due["track"], str(due["latest"]))
        for due in rows(desk.store, tables.Due, is_open=True)
    )
    with desk.store.read() as session:
        seen = session.query(tables.ImportSeen).filter_by(kind="referrals")
        told["seen"] = sorted((row.ref, row.fields) for row in seen)
    return told


def back(desk: Desk, run: int | None) -> TakenBack:
    assert run is not None
    look = look_at_taking_back(desk, run)
    done = take_back(desk, run)
    assert (look.voided, look.restored, look.stays) == (done.voided, done.restored, done.stays)
    replan(desk)
    return done


KNOWN = {
    "on its way": {"accepted": "2024-04-02"},
    "with its result": {"seen": "2024-04-10", "result": "They follow it", "under_care": "yes"},
    "ended": {"ended": "2024-06-01", "ended_because": "informed_decline"},
    "decided": {"ended": "2024-06-01", "ended_because": "rejected"},
}


@pytest.mark.parametrize("first", [None, *KNOWN])
@pytest.mark.parametrize("second", KNOWN)
def test_a_run_that_is_taken_back_leaves_all_as_it_was(
    desk: Desk, tmp_path: Path, first: str | None, second: str
) -> None:
    """Whatever was known before it: nothing, a stage, a result or an end."""
    if first == second:
        first = None
    if first is not None:
        landed(desk, tmp_path, **KNOWN[first])
    before = held(desk)
    run = landed(desk, tmp_path, **KNOWN[second]).run
    assert held(desk) != before
    assert back(desk, run).stays == []
    assert held(desk) == before
    assert history_is_whole(desk.store)


def landed(desk: Desk, folder: Path, **more: str) -> ImportSummary:
    """Take a row in, whatever it takes away: the number is shown and said."""
    path = write(folder / "referrals.csv", {**SENT, **more})
    takes = len(propose(desk, path, "referrals").losses)
    return taken(desk, folder, takes_away=takes or None, **more)


def test_what_was_taken_back_can_be_taken_in_again(desk: Desk, tmp_path: Path) -> None:
    told = {"seen": "2024-04-10", "result": "Clear, discharged"}
    back(desk, taken(desk, tmp_path, **told).run)
    assert ent(desk) == (True, None)
    assert counted(taken(desk, tmp_path, **told))[0] == 1
    assert ent(desk) == (False, "result_back")


@pytest.mark.parametrize("how", ["followed", "decided"])
def test_what_somebody_followed_since_stays_and_is_listed(
    desk: Desk, tmp_path: Path, how: str
) -> None:
    run = taken(desk, tmp_path, accepted="2024-04-02").run
    (row,) = rows(desk.store, tables.Referral, to="ent")
    if how == "followed":
        progress.seen(desk, row["id"], None, "Operation planned.")
    else:
        clara = desk_at(desk.store, desk.today, "clara")
        progress.close(clara, row["id"], None, "informed_decline", "Does not wish it.")
    before = held(desk)
    if how == "decided":
        late = taken(desk, tmp_path, seen="2024-04-10", result="Clear")
        assert "has ended here already" in sent_back(late)
        assert late.run is not None
        take_back(desk, late.run)
    done = back(desk, run)
    (line,) = done.stays
    assert line.startswith("referral P1|ent|right|2024-03-28: ")
    assert held(desk) == before


@pytest.mark.parametrize("known", [False, True])
def test_the_history_of_visits_that_are_taken_back_goes_unless_it_is_known_to_be_sent(
    desk: Desk, tmp_path: Path, known: bool
) -> None:
    """Of 349 referrals to be looked through, 348 once stayed with no visit that asked for them."""
    if known:
        taken(desk, tmp_path, accepted="2024-04-02")
    open_before = counts(desk).history
    (run,) = [row["id"] for row in rows(desk.store, tables.ImportRun, kind="visits")]
    back(desk, run)
    assert ent(desk) == ((True, None) if known else (False, "entered_in_error"))
    assert (counts(desk).history, counts(desk).referrals) == (0, int(known)), "a clinician decides"
    with desk.store.read() as session:
        assert session.query(tables.Referral).filter_by(is_open=True).count() == int(known)
    history(desk, tmp_path, OLD, **WORN, **SEEN)
    assert ent(desk) == (True, None)
    assert counts(desk).history == open_before


def test_the_kind_is_told_by_the_headings(desk: Desk, tmp_path: Path) -> None:
    assert kind_of(write(tmp_path / "export.csv", SENT), desk) == "referrals"
