"""Referrals: every stage, what stops one, how it ends, and the letter."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import msgspec
import pytest
from sqlalchemy import update

from recall.care.case import Reported, Visit
from recall.care.dates import Before
from recall.care.ear import Ear
from recall.desk.core.undo import undo
from recall.desk.people.timeline import timeline
from recall.desk.referrals import progress
from recall.desk.referrals.progress import News
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.errors import Conflict, InputError, Refused
from recall.letters.composed import from_json
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    rows,
    somebody,
    visit,
)

BATTERY = Ear(foreign_body="button_battery")


@pytest.fixture
def person_id(store: Store) -> int:
    """Somebody with keratin in an attic pocket on the right."""
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=KERATIN)
    return person_id


def the_referral(store: Store, person_id: int) -> dict:
    return dict(rows(store, tables.Referral, person_id=person_id, to="ent")[0])


def test_each_stage_gives_the_next_with_its_day(store: Store, person_id: int) -> None:
    desk, row = desk_at(store), the_referral(store, person_id)
    number = row["id"]
    assert row["stage"] == "sent"

    done = progress.sent(desk, number, row["version"], whom="appointments office")
    assert (done.step, done.on) == ("accepted", row["accepted_by"])
    done = progress.accepted(desk, number, done.version)
    assert (done.step, done.on) == ("seen", row["seen_by"])
    there = desk.today + timedelta(days=7)
    done = progress.accepted(desk, number, done.version, there)
    assert (done.step, done.on) == ("seen", there + timedelta(days=1))
    done = progress.seen(desk, number, done.version)
    assert (done.step, done.on) == ("result", row["result_by"])
    done = progress.result(desk, number, done.version, "pocket cleaned")
    assert "Nothing more is chased" in done.words

    row = the_referral(store, person_id)
    assert (row["is_open"], row["end_reason"]) == (False, "result_back")
    assert history_is_whole(store)


def test_the_second_of_two_desks_is_told(store: Store, person_id: int) -> None:
    row = the_referral(store, person_id)
    progress.sent(desk_at(store), row["id"], row["version"])
    with pytest.raises(Conflict):
        progress.sent(desk_at(store), row["id"], row["version"])


def test_through_the_gp_it_is_asked_whether_the_gp_acted(store: Store, person_id: int) -> None:
    row = the_referral(store, person_id)
    done = progress.sent(desk_at(store), row["id"], None, route="gp")
    assert done.step == "gp_acted"
    done = progress.record(desk_at(store), row["id"], None, News("gp_acted"))
    assert done.step == "accepted"


@pytest.mark.parametrize("end", [progress.rejected, progress.discharged_unseen])
def test_rejected_or_discharged_asks_for_a_decision(store: Store, person_id: int, end) -> None:
    desk, number = desk_at(store), the_referral(store, person_id)["id"]
    progress.sent(desk, number, None)
    with pytest.raises(InputError, match="without words"):
        end(desk, number, None, " ")
    done = end(desk, number, None, "missed the appointment there")
    assert (done.step, done.on) == ("decision", desk.today)
    assert the_referral(store, person_id)["is_open"]

    with pytest.raises(Refused, match=r"rob \(reception\) may not"):
        progress.carry_on(desk, number, None, "send again")
    done = progress.carry_on(desk_at(store, by="clara"), number, None, "send again")
    assert done.step == "sent"


def test_only_somebody_who_may_decide_closes_it_and_says_why(store: Store, person_id: int) -> None:
    number = the_referral(store, person_id)["id"]
    with pytest.raises(Refused):
        progress.close(desk_at(store), number, None, "transferred", "moved to another town")
    clara = desk_at(store, by="clara")
    with pytest.raises(InputError, match="is no reason"):
        progress.close(clara, number, None, "answered", "x")
    with pytest.raises(InputError, match="without words"):
        progress.close(clara, number, None, "transferred", "")
    progress.close(clara, number, None, "transferred", "moved to another town")
    assert the_referral(store, person_id)["end_reason"] == "transferred"


def test_a_closed_one_is_asked_for_anew_when_it_is_found_again(
    store: Store, person_id: int
) -> None:
    desk = desk_at(store, by="clara")
    number = the_referral(store, person_id)["id"]
    progress.result(desk, number, None, "nothing found")
    visit(later(desk, 60), person_id, right=KERATIN)
    found = rows(store, tables.Referral, person_id=person_id, to="ent", is_open=True)
    assert [r["asked_on"] for r in found] == [later(desk, 60).today]


def test_what_they_follow_is_not_referred_again(store: Store, person_id: int) -> None:
    desk = desk_at(store, by="clara")
    number = the_referral(store, person_id)["id"]
    progress.result(desk, number, None, "cholesteatoma, listed", they_follow=progress.Followed())
    visit(later(desk, 60), person_id, right=KERATIN)

    assert rows(store, tables.Referral, person_id=person_id, to="ent", is_open=True) == []
    loops = rows(store, tables.Due, person_id=person_id, kind="loop", is_open=True)
    assert {d["ear"] for d in loops} == {"right"}


def test_both_ears_to_one_service_go_together(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=KERATIN, left=KERATIN)
    both = rows(store, tables.Referral, person_id=person_id, to="ent")
    progress.sent(desk, both[0]["id"], None)
    after = rows(store, tables.Referral, person_id=person_id, to="ent")
    assert {r["stage"] for r in after} == {"accepted"}
    text = progress.draft_letter(desk, both[0]["id"]).text
    assert "both ears:" in text and "right ear:" not in text, "what holds for both is said once"


def test_an_emergency_is_rung_about_the_next_day(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=BATTERY)
    row = rows(store, tables.Referral, person_id=person_id, urgency="emergency")[0]
    assert row["stage"] == "sent"
    with pytest.raises(Refused, match="never by post"):
        progress.write_letter(desk, row["id"], None)

    done = progress.spoke_with(desk, row["id"], None, "the registrar on call")
    assert (done.step, done.on) == ("seen", desk.today + timedelta(days=1))
    assert "did they get there?" in done.words
    done = progress.record(
        later(desk, 1), row["id"], None, News("not_there", reason="no transport")
    )
    assert (done.step, done.on) == ("decision", later(desk, 1).today)


def test_the_draft_says_what_was_seen_and_why_and_is_to_be_signed(
    store: Store, person_id: int
) -> None:
    desk = desk_at(store, by="clara")
    number = the_referral(store, person_id)["id"]
    progress.spoke_with(desk, number, None, "appointments office")
    text = progress.draft_letter(desk, number).text

    assert "Rowan Thackwell" in text and "W1" in text
    assert "- keratin: yes" in text and "- scutum erosion: yes" in text
    assert "nothing recorded" in text  # the left ear was not looked at
    assert "appointments office, on 1 September 2026" in text
    assert "Checked and signed" in text
    assert "cholesteatoma" not in text.lower().split("why we ask")[0]


def test_a_late_draft_asks_for_no_day_that_has_gone_by(store: Store, person_id: int) -> None:
    row = the_referral(store, person_id)
    days = (row["seen_by"] - desk_at(store).today).days + 1
    late = progress.draft_letter(later(desk_at(store, by="clara"), days), row["id"]).text
    assert "as soon as you can" in late


def test_a_written_letter_waits_for_the_post_with_its_page(store: Store, person_id: int) -> None:
    desk = desk_at(store, by="clara")
    number = the_referral(store, person_id)["id"]
    with pytest.raises(Refused, match="address for referral"):
        progress.write_letter(desk, number, None)
    known = {"ent": ("Ms A. Lorimer", "Ear, Nose and Throat", "Dr Gray Ward, Wrenfield")}
    desk = replace(desk, config=msgspec.structs.replace(desk.config, addresses=known))
    progress.write_letter(desk, number, None)
    letter = rows(store, tables.Letter)[0]
    assert any("Dear Ms Lorimer" in said for said in from_json(letter["body"]).strings())
    assert (letter["kind"], letter["referral_id"], letter["batch_id"]) == ("referral", number, None)
    assert from_json(letter["body"]).address == (letter["to_name"], *letter["to_lines"])


def test_a_result_taken_back_is_awaited_again(store: Store, person_id: int) -> None:
    desk = desk_at(store)
    before = the_referral(store, person_id)
    progress.result(desk, before["id"], None, "all clear", they_follow=progress.Followed())
    undo(desk)
    after = the_referral(store, person_id)
    same = ("is_open", "stage", "chase_on", "end_reason", "ended_on")
    assert [after[n] for n in same] == [before[n] for n in same]
    assert rows(store, tables.UnderCare) == [] == rows(store, tables.Decision)
    assert history_is_whole(store)


def sudden_loss_told(store: Store, by: str = "clara") -> dict:
    """The emergency of somebody seen before, who today only told of a sudden loss."""
    desk = desk_at(store, by=by)
    somebody(desk)
    visit(later(desk_at(store, by="clara"), -43), 1, right=CLEAR, left=CLEAR)
    told = Reported(what="sudden_hearing_loss", ear="left", since=Before(days=1))
    made = draft(desk, "W1", Visit(on=desk.today, reported=(told,)))
    close_visit(desk, made, Acceptance(looked=True, arranged_with="Dr Sorrel"))
    (row,) = rows(store, tables.Referral, urgency="emergency")
    return row


def test_the_letter_of_an_emergency_says_what_was_told_today(store: Store) -> None:
    row = sudden_loss_told(store)
    text = progress.draft_letter(desk_at(store, by="clara"), row["id"]).text
    assert "Seen on 1 September 2026" in text
    assert "sudden hearing loss reported, left ear, since 31 August 2026" in text
    assert "Ears not examined that day." in text
    assert text.count("Not examined on 1 September 2026; findings of 20 July 2026:") == 2
    assert text.index("sudden hearing loss reported") < text.index("Right ear:")


def test_the_story_says_what_was_told_at_a_visit_without_findings(store: Store) -> None:
    sudden_loss_told(store)
    told = " ".join(map(str, timeline(desk_at(store), "W1")))
    assert "Told: sudden hearing loss reported, left ear, since 31 August 2026." in told


def test_normal_findings_come_last_in_one_line(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=KERATIN, left=CLEAR)
    text = progress.draft_letter(desk, the_referral(store, person_id)["id"]).text
    right = text.split("Right ear:")[1].split("Left ear:")[0]
    assert right.index("keratin: yes") < right.index("Normal or absent: drum seen: full")
    assert text.count("Normal or absent:") == 2
    assert "perforation: none; " not in text.split("Normal or absent:")[0]


def test_a_childs_letter_names_the_adult_and_a_number_that_is_safe(
    store: Store, person_id: int
) -> None:
    desk = desk_at(store, by="clara")
    number = the_referral(store, person_id)["id"]
    text = progress.draft_letter(desk, number).text
    assert "Responsible adult: Ida Thackwell" in text
    assert "Telephone: 01632 960321" in text
    with store.write() as session:
        held = tables.ContactPoint
        session.execute(update(held).where(held.kind == "phone").values(safe="no"))
    assert "Telephone:" not in progress.draft_letter(desk, number).text


def test_the_name_of_whoever_may_not_decide_is_left_blank(store: Store, person_id: int) -> None:
    number = the_referral(store, person_id)["id"]
    text = progress.draft_letter(desk_at(store, by="rob"), number).text
    assert "Rob Tanner" not in text and "reception" not in text
    assert "Name: ______" in text
    signed = progress.draft_letter(desk_at(store, by="clara"), number).text
    assert "Name: Clara Voss, Audiologist" in signed
