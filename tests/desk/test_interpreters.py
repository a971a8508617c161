"""The language of an interpreter: a field of its own, kept for every contact. No source."""

from __future__ import annotations

from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.core.undo import undo
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.matter_list import matters
from recall.loop.languages import KNOWN, language_named
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, history_is_whole, rows


def needs_one(store: Store, number: int, language: str, note: str = "") -> str:
    attempt = Attempt("phone", "needs_interpreter", note, language=language)
    return log_contact(desk_at(store), number, None, attempt).words


def test_it_is_known_by_its_name_and_stands_at_every_contact(store: Store, follow_up: dict) -> None:
    said = needs_one(store, follow_up["id"], "polish", "mornings")
    assert "known here" not in said
    (card,) = call_cards_of(desk_at(store), "W1")
    assert "Needs: Interpreter: Polish." in card.warnings
    assert [m.text for m in matters(desk_at(store))] == ["Polish. mornings"]
    needs_one(store, follow_up["id"], "bsl")
    assert rows(store, tables.Person)[0]["needs"] == ("Interpreter: British Sign Language",)
    undo(desk_at(store))
    assert rows(store, tables.Person)[0]["needs"] == ("Interpreter: Polish",)
    assert history_is_whole(store)


def test_another_one_is_kept_as_typed_and_said(store: Store, follow_up: dict) -> None:
    assert "“Twi” is no language known here, and kept as typed." in needs_one(
        store, follow_up["id"], "Twi"
    )
    assert rows(store, tables.Person)[0]["needs"] == ("Interpreter: Twi",)


def test_not_said_is_asked_for(store: Store, follow_up: dict) -> None:
    needs_one(store, follow_up["id"], "")
    assert rows(store, tables.Person)[0]["needs"] == ()
    assert matters(desk_at(store))[0].text.startswith("The language or kind of call was not said")


def test_each_known_one_is_itself() -> None:
    assert [language_named(each) for each in KNOWN] == [(each, True) for each in KNOWN]
