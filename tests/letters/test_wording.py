"""Filling wording in: the practice's own first, nothing undefined, nothing out of the sandbox."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import msgspec
import pytest

from recall.errors import LetterError
from recall.letters import sample
from recall.letters.compose import WORDS, compose, mail, script, words_of
from recall.letters.composed import Block, from_json, to_json
from recall.letters.data import KINDS, RECALL_KINDS, Kind
from recall.letters.wording import Wording, languages
from recall.letters.wording.environment import SHIPPED
from recall.letters.wording.filters import clock, day, weekday


def _own(folder: Path, text: str, name: str = "invitation_adult", language: str = "en") -> Wording:
    (folder / language).mkdir(exist_ok=True)
    (folder / language / f"{name}.txt").write_text(text, encoding="utf-8")
    return Wording(folder)


def test_own_copy_comes_before_the_shipped_one(tmp_path: Path) -> None:
    wording = _own(tmp_path, "# Hello\n\nOurs, {{ salutation }}.\n")
    body = compose(sample.letter("invitation_adult"), wording).body

    assert body == (
        Block(kind="heading", lines=("Hello",)),
        Block(kind="text", lines=("Ours, Mrs Thackwell.",)),
    )


def test_own_part_is_used_inside_shipped_letters(tmp_path: Path) -> None:
    wording = _own(tmp_path, "Ring the bell.\n", name="part_needs")

    assert "Ring the bell." in mail(sample.letter("reminder"), wording).text


def test_language_without_a_wording_falls_back_and_says_so(tmp_path: Path) -> None:
    welsh_referral = compose(sample.letter("referral", language="cy"), Wording())
    polish = compose(sample.letter("reminder", language="pl"), Wording())

    assert (welsh_referral.language, polish.language) == ("en", "en")
    assert "2026" in welsh_referral.dated and "October" in welsh_referral.dated


def test_regional_language_uses_the_plain_one() -> None:
    assert compose(sample.letter("reminder", language="cy-GB"), Wording()).language == "cy"


def test_language_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "reminder.txt").write_text("secret", encoding="utf-8")
    (tmp_path / "own").mkdir()
    made = compose(sample.letter("reminder", language=".."), Wording(tmp_path / "own"))

    assert made.language == "en"


@pytest.mark.parametrize("kind", RECALL_KINDS)
def test_welsh_is_shipped_for_every_letter_to_a_person(kind: str) -> None:
    assert (SHIPPED / "cy" / f"{kind}.txt").is_file()


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_letter_and_a_call_in_english(kind: str) -> None:
    assert Wording().has(kind, "en")
    assert Wording().has(f"spoken_{kind}", "en")


def test_shipped_languages_are_english_and_welsh() -> None:
    assert languages(Wording()) == ("cy", "en")


def test_note_to_a_native_speaker_is_not_on_the_letter() -> None:
    text = mail(sample.letter("reminder", language="cy"), Wording()).text

    assert "native speaker" not in text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{{ salutaton }}", r"invitation_adult\.txt.*'salutaton' is undefined"),
        ("{{ practice.fax }}", r"invitation_adult\.txt.*no attribute 'fax'"),
        ("{% if call_by %}{{ nme }}{% endif %}", "'nme' is undefined"),
        ("{{ ''.__class__.__mro__ }}", "may not do.*__class__"),
        ("{{ salutation.__init__.__globals__ }}", "may not do"),
        ("{{ WORDS }}", "'WORDS' is undefined"),
        ("{{ practice.update({'name': 'x'}) }}", "may not do"),
        ("{% include '../../../secret.txt' %}", "no wording"),
        ("{% for x in range(1000000000) %}{% endfor %}", "cannot be filled in"),
        ("{% if %}", "line 1"),
        ("{{ salutation | backwards }}", "No filter named 'backwards'"),
        ("{{ 1 / 0 }}", "division by zero"),
        ("{{ salutation | day }}", "cannot be filled in"),
    ],
)
def test_faulty_wording_is_named_with_what_is_wrong(
    tmp_path: Path, text: str, message: str
) -> None:
    with pytest.raises(LetterError, match=message) as caught:
        compose(sample.letter("invitation_adult"), _own(tmp_path, text))

    assert caught.value.hint


def test_wording_saved_in_another_encoding_is_named(tmp_path: Path) -> None:
    wording = _own(tmp_path, "x")
    (tmp_path / "en" / "invitation_adult.txt").write_bytes(b"Caf\xe9")

    with pytest.raises(LetterError, match="not saved as UTF-8"):
        compose(sample.letter("invitation_adult"), wording)


def test_byte_order_mark_is_not_printed(tmp_path: Path) -> None:
    wording = _own(tmp_path, "\ufeff# Hello\n")

    assert compose(sample.letter("invitation_adult"), wording).body[0].kind == "heading"


@pytest.mark.parametrize(
    ("kind", "changes", "lacks"),
    [
        ("was_not_brought", {"person": ""}, "the name of the person"),
        ("booking_confirmation", {"appointment": None}, "the booked time"),
        ("referral", {"seen": None}, "what was seen"),
        ("reminder", {"salutation": " "}, "a greeting"),
    ],
)
def test_letter_that_lacks_something_is_refused(
    kind: str, changes: dict[str, object], lacks: str
) -> None:
    data = msgspec.structs.replace(sample.letter(kind), **changes)  # type: ignore[arg-type]

    with pytest.raises(LetterError, match=f"L-0001.*{lacks}"):
        compose(data, Wording())


def test_words_are_the_documented_ones() -> None:
    assert list(words_of(sample.letter("referral"))) == list(WORDS)


def test_stored_letter_comes_back_the_same() -> None:
    letter = compose(sample.letter("referral"), Wording())

    assert from_json(to_json(letter)) == letter


def test_damaged_stored_letter_is_said() -> None:
    with pytest.raises(LetterError, match="damaged"):
        from_json(b'{"number": 1}')


def test_signature_is_the_practice_where_nobody_signs() -> None:
    words = words_of(msgspec.structs.replace(sample.letter("reminder"), signed_by=""))

    assert words["signed_by"] == "Wrenfield Ear Care"


@pytest.mark.parametrize(
    ("language", "expected"),
    [
        ("en", ("6 October 2026", "Tuesday 6 October 2026", "2:30 pm")),
        ("cy", ("6 Hydref 2026", "Dydd Mawrth 6 Hydref 2026", "14:30")),
    ],
)
def test_dates_are_written_in_the_language_asked_for(
    language: str, expected: tuple[str, str, str]
) -> None:
    """Names of days and months: Unicode CLDR, through Babel."""
    on, at = date(2026, 10, 6), time(14, 30)

    assert (day(on, language), weekday(on, language), clock(at, language)) == expected


def test_call_script_settles_who_it_is_before_why() -> None:
    for kind in KINDS:
        text = script(sample.letter(kind), Wording()).text

        assert text.index("First: who is it?") < text.index("Then: why you call")


def test_voicemail_is_a_name_and_a_number_only() -> None:
    for kind in KINDS:
        blocks = script(sample.letter(kind), Wording()).blocks
        at = next(i for i, block in enumerate(blocks) if block.lines == ("Voicemail",))
        message = blocks[at + 1].lines[0]

        assert message == (
            '"Hello, this is (your name). Please call me on 01632 960123. Thank you."'
        )


def test_nothing_before_the_identity_check_names_the_practice() -> None:
    for kind in RECALL_KINDS:
        text = script(sample.letter(kind), Wording()).text
        before = text[: text.index("Then: why you call")]

        assert sample.PRACTICE.name not in before
        assert "ear" not in before.casefold().split()


def test_mail_subject_says_nothing_of_the_reason() -> None:
    subjects = {mail(sample.letter(kind), Wording()).subject for kind in KINDS}

    assert subjects == {"Message from Wrenfield Ear Care"}


@pytest.mark.parametrize("language", ["en", "cy"])
@pytest.mark.parametrize(
    "kind",
    [
        *("invitation_adult", "invitation_child", "reminder", "last_letter"),
        *("was_not_brought", "did_not_attend"),
    ],
)
def test_what_is_late_is_asked_for_as_soon_as_they_can_and_by_no_day(
    kind: Kind, language: str
) -> None:
    late = sample.letter(kind, language=language, full=False)
    late = msgspec.structs.replace(late, soon=True, person="Ann" if late.person else "")
    soon = {"en": "as soon as you can", "cy": "cyn gynted ag y gallwch"}[language]

    said = mail(late, Wording()).text
    by = mail(msgspec.structs.replace(late, soon=False, call_by=date(2026, 10, 16)), Wording()).text

    assert soon in said and " by " not in said and "erbyn" not in said
    assert soon not in by and "16" in by
