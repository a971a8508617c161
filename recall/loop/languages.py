"""The languages for which an interpreter is asked, by the names that people type.

The names are those of ISO 639 in English. Which are listed: main languages other than English in
England and Wales, Census 2021 (Office for National Statistics), from memory, with those of the
deaf and deafblind. Any other is taken as it was typed.
"""

from __future__ import annotations

KNOWN: tuple[str, ...] = (
    "Albanian", "Arabic", "Bengali", "British Sign Language", "Bulgarian", "Cantonese", "Czech",
    "Dari", "Deafblind manual", "Dutch", "Farsi", "French", "German", "Greek", "Gujarati",
    "Hebrew", "Hindi", "Hungarian", "Irish", "Italian", "Japanese", "Korean", "Kurdish", "Latvian",
    "Lip speaker", "Lithuanian", "Malayalam", "Mandarin", "Nepali", "Panjabi", "Pashto", "Polish",
    "Portuguese", "Romanian", "Russian", "Shona", "Sinhala", "Slovak", "Somali", "Spanish",
    "Swahili", "Tagalog", "Tamil", "Telugu", "Thai", "Tigrinya", "Turkish", "Ukrainian", "Urdu",
    "Vietnamese", "Welsh", "Yoruba",
)  # fmt: skip
SHORT = {"bsl": "British Sign Language", "punjabi": "Panjabi", "persian": "Farsi"}
"""Other names by which some are typed."""


def language_named(typed: str) -> tuple[str, bool]:
    """Return the language that is meant, and whether it is a known one; else as it was typed.

    >>> language_named(" polish "), language_named("BSL"), language_named("portug")
    (('Polish', True), ('British Sign Language', True), ('Portuguese', True))
    >>> language_named("P"), language_named("Twi")
    (('P', False), ('Twi', False))
    """
    words = " ".join(typed.split())
    folded = words.casefold()
    found = [each for each in KNOWN if each.casefold() == folded] or [
        each for each in KNOWN if len(folded) > 2 and each.casefold().startswith(folded)
    ]
    known = SHORT.get(folded) or (found[0] if len(found) == 1 else "")
    return (known, True) if known else (words, False)
