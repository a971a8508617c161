"""Cleaning what comes in, and knowing what the fonts can show."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.letters import address, coverage
from recall.letters.text import clean, clean_lines

EUROPEAN = (
    "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿ"
    "ĀāĂăĄąĆćĈĉĊċČčĎďĐđĒēĔĕĖėĘęĚěĜĝĞğĠġĢģĤĥĦħĨĩĪīĬĭĮįİıĴĵĶķĹĺĻļĽľĿŀŁłŃńŅņŇňŊŋŌōŎŏŐőŒœŔŕŖŗŘř"
    "ŚśŜŝŞşŠšȘșȚțŢţŤťŦŧŨũŪūŬŭŮůŰűŲųŴŵŶŷŸŹźŻżŽžẀẁẂẃẄẅỲỳ"
)
OTHERS = {
    "Greek": "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρσςτυφχψωάέήίόύώϊϋΐΰ",
    "Cyrillic": "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдеёжзийклмнопрстуфхцчшщъыьэюя"
    "ЄєІіЇїҐґЉљЊњЋћЂђЏџЎў",
    "Arabic": "ابتثجحخدذرزسشصضطظعغفقكلمنهويءآأؤإئةىپچژگکی٠١٢٣٤٥٦٧٨٩",
    "Vietnamese": "ẠẢẤẦẨẪẬẮẰẲẴẶẸẺẼẾỀỂỄỆỈỊỌỎỐỒỔỖỘỚỜỞỠỢỤỦỨỪỬỮỰỲỴỶỸơưđ",
}


@pytest.mark.parametrize("letters", [EUROPEAN, *OTHERS.values()], ids=["European", *OTHERS])
def test_fonts_cover(letters: str) -> None:
    assert coverage.uncovered([unicodedata.normalize("NFC", letters)]) == ()


def test_uncovered_characters_come_once_and_by_name() -> None:
    missing = coverage.uncovered(["Ida 木 木", "ก"])

    assert missing == ("木", "ก")
    assert coverage.described(missing) == (
        "U+6728 CJK UNIFIED IDEOGRAPH-6728, U+0E01 THAI CHARACTER KO KAI"
    )


@pytest.mark.parametrize(
    ("given_text", "expected"),
    [
        ("  Ida \t Thackwell\r\n", "Ida Thackwell"),
        ("a\u2028b\u0085c\u00a0d", "a b c d"),
        ("Ann\u202ekraM\u2066\u200f\ufeff", "AnnkraM"),
        ("x\x00\x07\x1by\x7f", "xy"),
        ("Sia\u0302n", "Siân"),
        ("\ue001heading", "heading"),
        ("می\u200cخواهم", "می\u200cخواهم"),
        ("a\ud800b", "ab"),
        ("", ""),
    ],
)
def test_clean_leaves_one_line_without_anything_unseen(given_text: str, expected: str) -> None:
    assert clean(given_text) == expected


@given(st.text())
def test_clean_is_done_in_one_go(text: str) -> None:
    once = clean(text)

    assert clean(once) == once
    assert "\n" not in once and "\u202e" not in once


def test_empty_lines_are_left_out() -> None:
    assert clean_lines(("Ida", "", " \u200e ", "WR9 9ZX")) == ("Ida", "WR9 9ZX")


@pytest.mark.parametrize(("lines", "points"), [(4, 12.0), (5, 12.0), (6, 10.0), (7, 9.0)])
def test_address_takes_the_largest_type_that_fits(lines: int, points: float) -> None:
    fitted = address.fit(tuple(f"Line {n}" for n in range(lines)))

    assert fitted is not None
    assert fitted.points == points
    assert len(fitted.lines) * fitted.step_mm <= address.HEIGHT_MM


def test_long_line_is_broken_between_words() -> None:
    line = "The Old Coach House behind the Lower Mill, Larkspur Yard"
    fitted = address.fit((line, "WR9 9ZX"))

    assert fitted is not None
    assert len(fitted.lines) == 3
    assert " ".join(fitted.lines[:2]) == line


def test_address_of_too_many_lines_does_not_fit() -> None:
    assert address.fit(tuple(f"Line {n}" for n in range(8))) is None
