"""The commands of the loop, as they are typed, on a migrated register."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import icalendar
import pypdf
import pytest

from recall.care.ear import Ear
from recall.cli.main import main
from recall.clock import INVENTED
from recall.desk.plans.adoption import adopt
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store, mark_invented
from tests.desk.practice import FLUID, KERATIN, desk_at, open_follow_ups, rows, somebody, visit
from tests.desk.test_adoption import a_practice
from tests.desk.test_loosening import ended

DIED = ("person", "died", "W2", "--day", "today", "--name", "Rowan Quill")

Typed = Callable[..., tuple[int, str, str]]


@pytest.fixture
def typed(
    store: Store,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Typed:
    """Type a command at nine o'clock of a day; get its status, its data and its messages."""
    mark_invented(store.path)
    monkeypatch.chdir(tmp_path)
    config = tmp_path / "recall.toml"
    config.write_text(
        f"""
[practice]
name = "Wrenfield Ear Care"
address = ["4 Larkspur Yard", "Wrenfield"]
postcode = "WR9 9ZZ"
phone = "01632 960123"

[addresses]
ent = ["Ear, Nose and Throat", "Wrenfield Infirmary"]

[files]
database = "{store.path.as_posix()}"
"""
    )

    def run(*words: str, by: str = "rob", on: str = "2026-09-02") -> tuple[int, str, str]:
        monkeypatch.setenv(INVENTED, f"{on}T09:00")
        status = main([*words, "--config", str(config), "--by", by, "--on", on])
        captured = capfd.readouterr()
        return status, captured.out, captured.err

    return run


@pytest.fixture
def follow_up(store: Store) -> int:
    """A child and an adult with something open; the child's follow-up."""
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    visit(desk, child, right=FLUID, left=KERATIN)
    adult = somebody(desk, "W2", born=date(1960, 1, 1), adult=False, family_name="Quill")
    visit(desk, adult, right=FLUID)
    return int(open_follow_ups(store, child)[0]["id"])


def test_a_contact_is_logged_with_two_words(typed: Typed, follow_up: int, store: Store) -> None:
    status, out, _ = typed("contact", str(follow_up), "no-answer", "--note", "rang at noon")
    assert status == 0
    assert "No answer." in out and "Next, " in out
    assert rows(store, tables.Contact)[0]["note"] == "rang at noon"
    status, out, _ = typed("undo")
    says = "Rowan Thackwell, born 2 March 2020: taken back: No answer."
    assert (status, out.startswith(says)) == (0, True)
    assert rows(store, tables.Contact) == []


def test_what_goes_wrong_has_its_exit_status(typed: Typed, follow_up: int) -> None:
    number = str(follow_up)
    assert typed("contact", number, "perhaps")[0] == InputError.exit_code
    assert typed("contact", number, "no_answer", "--version", "99")[0] == Conflict.exit_code
    decide = ("decide", "transferred", number, "--why", "x")
    assert "Consider:" in typed(*decide, "--show")[1]
    status, out, err = typed(*decide)
    assert status == Refused.exit_code
    assert "rob (reception) may not" in err and out == "", "said at once, before anybody is shown"


def test_other_contact_commands(typed: Typed, follow_up: int) -> None:
    number = str(follow_up)
    assert "\nIn hand until" in typed("contact", "take", number)[1]
    assert typed("contact", "give-back", number)[0] == 0
    assert typed("contact", "note", number, "Prefers mornings.")[0] == 0
    held = typed("contact", "hold", number, "--until", "2026-09-20", "--why", "abroad")
    assert held[0] == 0 and "Held back: abroad." in held[1]
    assert typed("contact", "address", number, "--how", "asked the GP's office")[0] == 0
    assert typed("contact", "looked", number, by="clara")[0] == 0


def test_bookings_from_the_command_line(typed: Typed, follow_up: int) -> None:
    number = str(follow_up)
    status, out, _ = typed("book", number, "2026-09-30T10:00", "--why-late", "x")
    assert status == 0 and "Booked for Wednesday 30 September 2026 at 10:00." in out
    assert "Thackwell" in typed("booking", "slip", "1")[1]
    event = icalendar.Calendar.from_ical(typed("booking", "calendar", "1")[1]).walk("VEVENT")[0]
    assert str(event["UID"]) == "booking-1@ear-recall"
    status, out, _ = typed("appointments", "--json", on="2026-09-30")
    assert [row["ref"] for row in json.loads(out)] == ["W1"]
    assert typed("booking", "move", "1", "2026-10-01T11:00", "person", "--why-late", "x")[0] == 0
    assert typed("booking", "earlier", "2", "mornings")[0] == 0
    assert "Would come earlier: mornings" in typed("appointments", on="2026-10-01")[1]
    assert typed("booking", "call-off", "2", "practice")[0] == 0
    assert "is free, as far as the bookings here tell" in typed("booking", "offer", "2")[1]
    assert typed("book", number, "not-a-time")[0] == 2


def test_the_diary_of_the_practice_is_counted_by_command(typed: Typed, follow_up: int) -> None:
    typed("book", str(follow_up), "2026-09-30T10:00", "--why-late", "x")
    status, out, _ = typed("appointments", "--day", "2026-09-30", "--diary", "2")
    assert (status, out.strip()) == (
        0,
        "Wednesday 30 September 2026: The diary has 2, here is 1.",
    )
    assert "The diary has 2, here is 1." in typed("appointments", "--day", "2026-09-30")[1]
    assert "The diary has 2, here is 1." in typed("queue")[2]
    assert typed("appointments", "--diary", "-1")[0] == 2
    assert typed("appointments", "--diary", "5", by="")[0] != 0


def test_a_referral_from_sent_to_result(typed: Typed, follow_up: int, store: Store) -> None:
    number = str(rows(store, tables.Referral, to="ent")[0]["id"])
    assert "Is not valid" not in typed("refer", "draft", number)[1]
    assert "Rowan Thackwell" in typed("refer", "draft", number)[1]
    assert typed("refer", "sent", number, "--route", "gp")[0] == 0
    assert typed("refer", "gp-acted", number)[0] == 0
    assert typed("refer", "rejected", number, "--why", "no capacity")[0] == 0
    assert typed("refer", "carry-on", number, "--why", "sent elsewhere")[0] == 5
    assert typed("refer", "carry-on", number, "--why", "sent elsewhere", by="clara")[0] == 0
    assert typed("refer", "letter", number)[0] == 0
    status, out, _ = typed("refer", "result", number, "seen, follow-up there", "--they-follow")
    assert (status, "They follow it." in out) == (0, True)


def test_a_draft_is_a_page_to_sign_and_give_along(
    typed: Typed, follow_up: int, store: Store, tmp_path: Path
) -> None:
    number = str(rows(store, tables.Referral, to="ent")[0]["id"])
    out = tmp_path / "draft.pdf"
    status, _, err = typed("refer", "draft", number, "--pdf", str(out))
    assert status == 0 and "checked and signed" in err
    assert "Rowan Thackwell" in (pypdf.PdfReader(out).pages[0].extract_text() or "")


def test_between_visits_a_clinician_asks_and_others_tell(
    typed: Typed, follow_up: int, store: Store
) -> None:
    asks = ("--ear", "left", "--why", "worse, by phone")
    urgent = ("refer", "ask", "W2", "ent", "--urgency", "urgent", *asks)
    assert typed(*urgent)[0] == 5
    assert typed(*urgent, by="clara")[0] == 0
    assert typed("person", "look", "W2", "hearing-check", *asks, by="clara")[0] == 0
    care = typed("person", "care", "W1", "ent", "--ear", "left", "--since", "2026-01", by="clara")
    assert care[0] == 0
    assert typed("person", "care-ended", "1", "--why", "discharged")[0] == 0
    told = ("person", "told", "W1", "2026-04", "right", "--source", "health visitor")
    assert typed(*told, "--effusion", "present")[0] == 0
    assert typed(*told)[0] == 2


def test_a_decision_shows_who_is_meant_first(typed: Typed, follow_up: int, store: Store) -> None:
    number = str(follow_up)
    status, out, err = typed("decide", "hand-back", number, "--show", by="clara")
    assert status == 0 and "W1 Rowan Thackwell" in out and "Not allowed yet." in out
    status, _, err = typed("decide", "keep-trying", number, "--why", "x", by="clara")
    assert status == 2 and "Add --yes" in err
    assert typed("decide", "keep-trying", number, "--why", "x", "--yes", by="clara")[0] == 0
    days = ("--earliest", "2026-12-01", "--target", "2026-12-08", "--latest", "2026-12-22")
    moved = typed("decide", "move", number, "--why", "abroad", "--yes", *days, by="clara")
    assert moved[0] == 0 and "Latest 22 December 2026." in moved[1]


def test_a_decision_about_several_needs_the_number_that_was_shown(
    typed: Typed, follow_up: int, store: Store
) -> None:
    numbers = [str(row["id"]) for row in rows(store, tables.FollowUp, is_open=True)]
    words = ("decide", "carry-on", *numbers, "--why", "as talked over", "--yes")
    status, _, err = typed(*words, by="clara")
    assert status == 2 and f"Add --number {len(numbers)}." in err
    assert typed(*words, "--number", "1", by="clara")[0] == 2
    assert typed(*words, "--number", str(len(numbers)), by="clara")[0] == 0


def test_people_are_found_and_told(typed: Typed, follow_up: int) -> None:
    assert typed("find", "thackwell")[1].startswith("W1")
    assert json.loads(typed("find", "quill", "--json")[1])[0]["ref"] == "W2"
    assert "Seen, visit 1." in typed("person", "Rowan", "Thackwell")[1]
    card = typed("person", "card", "W1")[1]
    assert "next " in card and "Do not" not in card.splitlines()[0]
    status, _, err = typed("person", "rowan")
    assert status == 2 and "2 people fit" in err
    assert typed("person", "W404")[0] == 2


@pytest.mark.parametrize(
    "words",
    [
        ("find", "quill"),
        ("person", "story", "W2"),
        ("person", "card", "W2"),
        ("appointments",),
        ("failsafe", "--last"),
        ("history", "verify"),
    ],
    ids=" ".join,
)
def test_looking_needs_no_name(words: tuple[str, ...], typed: Typed, follow_up: int) -> None:
    status, _out, err = typed(*words, by="")

    assert status == 0, err


def test_a_person_is_changed(typed: Typed, follow_up: int, store: Store) -> None:
    assert typed("person", "risk", "W1", "hearing-aid", "--ear", "right")[0] == 0
    assert typed("person", "needs", "W1", "hearing loop")[0] == 0
    assert typed("person", "reach", "W1", "address", "9 Teasel Row, Wrenfield")[0] == 0
    assert typed("person", "adult", "W1", "Bo Quill", "responsible-adult")[0] == 0
    assert typed("person", "objects", "W2")[0] == 0
    assert typed("person", "contact-again", "W2", "objected", "--why", "asked")[0] == 0
    assert typed("person", "not-safe", "W2")[0] == 0
    status, _, err = typed("person", "died", "W2", "--day", "today", "--name", "Rowan Quil")
    assert status == 5 and "Quill" not in err
    assert typed(*DIED, by="clara")[0] == 0
    assert typed("person", "not-died", "W2", "--why", "somebody else", by="clara")[0] == 0


def test_failsafe_and_history(typed: Typed, follow_up: int, store: Store) -> None:
    assert "never run" in typed("failsafe", "--last")[2]
    status, out, _ = typed("failsafe", on="2026-11-20")
    assert status == 0 and "2 people looked at" in out
    assert "0 that must never be (0 new, 0 gone since the check before)" in out
    assert "W1 Rowan Thackwell" not in out
    assert "W1 Rowan Thackwell" in typed("failsafe", "--last", "--backlog")[1]
    assert json.loads(typed("failsafe", "--last", "--json")[1])
    status, _, err = typed("history", "verify")
    assert (status, err.strip()) == (0, "The history is whole.")
    with store.engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        connection.rollback()
        raw.execute("DELETE FROM history_payload WHERE history_id = 3")
        raw.execute("DELETE FROM history WHERE id = 3")
    status, out, err = typed("history", "verify")
    assert status == 3 and "missing up to 3" in out


def test_lines_of_a_plan_from_the_command_line(typed: Typed, follow_up: int, store: Store) -> None:
    listed = typed("line", "W1")[1]
    assert listed.splitlines()[0].startswith("Rowan Thackwell, born 2 March 2020")
    assert listed.splitlines()[1].startswith("ent:left  urgent, by ")
    assert "fluid:right  medium, by " in listed
    because = ("--because", "judgement")
    days = ("--earliest", "2026-10-12", "--target", "2026-10-19", "--latest", "2026-10-26")
    for words in (
        ("line", "urgency", "W1", "fluid:right", "high", *because),
        ("line", "move", "W1", "fluid:right", *because, *days),
        ("line", "strike", "W1", "fluid:right", *because, "--why", "Seen at school."),
    ):
        assert typed(*words)[0] == Refused.exit_code
        status, out, err = typed(*words, by="clara")
        assert (status, "Planned again." in out) == (0, True), err
    assert "fluid:right" not in typed("line", "list", "W1")[1]
    (row,) = rows(store, tables.Decision, action="strike")
    assert (row["why"], row["because"]) == ("Seen at school.", "judgement")
    assert "fluid-child-look: clinical judgement 1" in typed("line", "struck")[1]
    assert (
        f"[{row['id']}] 2026-09-02, Clara Voss: fluid, right ear"
        in typed("person", "card", "W1", "--clinical")[1]
    )
    assert "Struck out or lowered" in typed("explain", "W1")[1]
    assert typed("line", "back", str(row["id"]), "--why", "Not at school.", by="clara")[0] == 0
    assert "fluid:right" in typed("line", "W1")[1]
    assert "No rule was struck out." in typed("line", "struck")[1]


def test_a_line_is_struck_out_while_closing(typed: Typed, store: Store, tmp_path: Path) -> None:
    somebody(desk_at(store, by="clara"))
    seen = tmp_path / "seen.json"
    seen.write_text('{"right": {"drum_seen": "full", "attic_seen": true, "effusion": "present"}}')
    close = ("close", "W1", "--findings", str(seen), "--yes")
    assert typed(*close, "--strike", "fluid:right=no", by="clara")[0] == InputError.exit_code
    status, _, err = typed(*close, "--strike", "fluid:right=judgement: Next week.", by="clara")
    assert status == 0 and "as --strike names them: fluid:right" in err
    (row,) = rows(store, tables.Decision)
    assert (row["rule"], row["because"], row["why"]) == (
        "fluid-child-look",
        "judgement",
        "Next week.",
    )
    assert "Nothing is open." in typed("line", "W1")[1]


def test_a_correction_that_makes_it_milder_waits_for_somebody_else(
    typed: Typed, follow_up: int, store: Store, tmp_path: Path
) -> None:
    number = rows(store, tables.Visit)[0]["id"]
    assert "Nothing waits." in typed("line", "milder")[1]
    seen = tmp_path / "seen.json"
    seen.write_text('{"on": "2026-09-01", "left": {"drum_seen": "full"}}')
    correct = ("correct", f"#{number}", "--findings", str(seen), "--yes", "--looked")
    status, _, err = typed(*correct, by="clara")
    assert status == Refused.exit_code and "Milder: ENT, left ear, urgent" in err
    assert typed(*correct, "--milder-why", "Not this ear.", by="clara")[0] == 0
    listed = typed("line", "milder")[1]
    assert "W1, 2026-09-02, Clara Voss: ENT, left ear, urgent" in listed
    first = listed[1 : listed.index("]")]
    assert typed("line", "seen", first, by="clara")[0] == Refused.exit_code
    assert typed("line", "seen", first, by="clara", on="2026-09-03")[0] == 0


def test_what_an_adoption_loosens_is_listed_and_answered_by_rule(
    typed: Typed, store: Store
) -> None:
    desk = a_practice(store)
    adopt(desk, ended("fluid-child-look", desk.today))
    listed = typed("protocol", "loosened")[1]
    assert "1 no more,     0 later  fluid-child-look  (such as W1)" in listed
    loosen = ("protocol", "loosen", "fluid-child-look", "--take")
    assert typed(*loosen, by="clara")[0] == InputError.exit_code
    assert typed(*loosen, "--why", "Agreed.")[0] == Refused.exit_code
    status, _, err = typed(*loosen, "--why", "Agreed.", by="clara")
    assert (status, "1 lines: as the new rules have them." in err) == (0, True)


def test_a_name_that_may_not_act_is_said_before_anything_is_asked(typed: Typed) -> None:
    """Without a terminal a question is left empty: the answer would be a name that is wrong."""
    status, _, err = typed("person", "died", "W1", "--day", "today", by="nobody-here")
    assert status == NotFound.exit_code
    assert "There is no member of staff 'nobody-here'" in err


def test_a_visit_is_not_closed_while_nobody_said_whether_a_referral_stands(
    store: Store, typed: Typed, tmp_path: Path
) -> None:
    """Its reason is gone: `--looked` alone answers the other questions, never this one."""
    low, well = (dict.fromkeys(("500", "1000", "2000", "4000"), dB) for dB in (45, 10))
    desk = desk_at(store, by="clara")
    lost = Ear(hearing_dB=low)
    visit(desk, somebody(desk), right=lost, left=lost)
    found = {"right": {"hearing_dB": well}, "left": {"hearing_dB": well}}
    (tmp_path / "found.json").write_text(json.dumps(found))
    words = ("close", "W1", "--findings", str(tmp_path / "found.json"), "--yes", "--looked")
    name = "paediatric-audiology:both"

    status, _, err = typed(*words, by="clara", on="2026-10-13")
    assert status == Refused.exit_code and f"--still-needed {name}" in err
    assert len(rows(store, tables.Visit)) == 1

    status, _, _ = typed(*words, "--still-needed", name, by="clara", on="2026-10-13")
    assert status == 0 and len(rows(store, tables.Visit)) == 2
