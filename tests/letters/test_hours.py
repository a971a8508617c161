"""Opening hours in the second language, against the names that the Unicode CLDR gives.

Days: CLDR, common/main/cy.xml, dayWidth wide, stand-alone. Times: the same file, timeFormat short,
HH:mm.
"""

from __future__ import annotations

import pytest
from babel import Locale
from msgspec.structs import replace

from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.wording import Wording
from recall.letters.wording.hours import put_over

WELSH = Locale("cy")


@pytest.mark.parametrize(
    ("written", "welsh"),
    [
        ("Monday to Friday, 9 am to 5 pm", "Dydd Llun – Dydd Gwener, 09:00 – 17:00"),
        ("Mon-Fri 8:30am-6pm; Sat 9.00 am to noon",
         "Dydd Llun – Dydd Gwener 08:30 – 18:00; Dydd Sadwrn 09:00 – 12:00"),
        ("Tuesday and Thursday, 12 am to 12:30 pm", "Dydd Mawrth, Dydd Iau, 00:00 – 12:30"),
        ("Wednesday 09:00 to 17:30", "Dydd Mercher 09:00 – 17:30"),
    ],
)  # fmt: skip
def test_days_and_times_are_put_over(written: str, welsh: str) -> None:
    assert put_over(written, WELSH) == welsh


@pytest.mark.parametrize(
    "written",
    [
        "By appointment only",
        "Monday to Friday, not on holidays",
        "Monday 25 am",
        "Monday 24:10",
        "",
    ],
)
def test_what_is_not_understood_stays_as_it_was_written(written: str) -> None:
    assert put_over(written, WELSH) == written


def printed(own: dict[str, str], language: str = "cy") -> str:
    data = sample.letter("reminder", language=language)
    practice = replace(data.practice, opening_hours_in=own)
    return "\n".join(compose(replace(data, practice=practice), Wording()).strings())


def test_a_letter_has_them_at_its_head_and_where_to_call() -> None:
    text = printed({})
    assert text.count("Dydd Llun – Dydd Gwener, 09:00 – 17:00") == 2
    assert "Monday" not in text and "9 am" not in text


def test_the_practices_own_words_come_first() -> None:
    text = printed({"cy": "Dydd Llun i ddydd Gwener, 9yb i 5yp"})
    assert text.count("Dydd Llun i ddydd Gwener, 9yb i 5yp") == 2
    assert "09:00" not in text


def test_an_english_letter_has_them_as_they_were_written() -> None:
    assert printed({"cy": "ar agor"}, "en").count("Monday to Friday, 9 am to 5 pm") == 2
