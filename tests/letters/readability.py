"""How many school years a text asks for, by published formulas.

Flesch-Kincaid grade: Kincaid, Fishburne, Rogers, Chissom 1975, Research Branch Report 8-75.
Automated readability index: Smith and Senter 1967, AMRL-TR-66-220.
SMOG: McLaughlin 1969, Journal of Reading 12(8):639-646, with the regression's own figures.

A syllable is counted where a library can divide the word or where vowels stand together,
whichever gives more: what is counted wrongly makes a text look harder, not easier.
"""

from __future__ import annotations

import math
import re

import pyphen

_DIVIDED = pyphen.Pyphen(lang="en_US")
_WORD = re.compile(r"\w[\w'’-]*")
_VOWELS = re.compile(r"[aeiouy]+")
_SILENT = re.compile(
    r"(?<=[^aeiouyl])e$|(?<=[^aeiouydt])e(?=d$)|(?<=[^aeiouysxzcg])e(?=s$)"
    r"|(?<=[^aeiouyl])e(?=(?:ly|thing|where|ful|less|ment)$)"
)
"""Late, called, times, something; but little, wanted and pages."""
_APART = re.compile(r"(?<![ctqg])([iu])(?=a)")
"""Usual and medial; but special and quality."""
_FRAGMENT = 2
"""With so few words it is no sentence to divide by: Yours sincerely."""


def words(text: str) -> list[str]:
    """Return the words and numbers."""
    return _WORD.findall(text)


def sentences(text: str) -> int:
    """Return how many sentences there are; fragments lengthen the others."""
    parts = re.split(r"[.!?]+(?:\s+|$)", text)
    return max(1, sum(len(words(part)) > _FRAGMENT for part in parts))


def syllables(word: str) -> int:
    """Return how many syllables a word has; one for figures.

    Figures would be read aloud, but several or long ones are better left out of the count
    (Flesch 1948, Journal of Applied Psychology 32:221-233; from memory).
    """
    spoken = _APART.sub(r"\1-", _SILENT.sub("", word.lower()))
    return max(1, len(_VOWELS.findall(spoken)), len(_DIVIDED.positions(word.lower())) + 1)


def flesch_kincaid(word_count: int, sentence_count: int, syllable_count: int) -> float:
    """Return the grade by length of sentences and words."""
    return 0.39 * word_count / sentence_count + 11.8 * syllable_count / word_count - 15.59


def flesch_kincaid_grade(text: str) -> float:
    """Return the Flesch-Kincaid grade of a text."""
    found = words(text)
    return flesch_kincaid(len(found), sentences(text), sum(map(syllables, found)))


def automated_index(text: str) -> float:
    """Return the automated readability index of a text."""
    found = words(text)
    signs = sum(len(re.findall(r"\w", word)) for word in found)
    return 4.71 * signs / len(found) + 0.5 * len(found) / sentences(text) - 21.43


def smog(long_words: float) -> float:
    """Return the SMOG grade for so many words of three syllables or more in 30 sentences."""
    return 1.043 * math.sqrt(long_words) + 3.1291


def smog_grade(text: str) -> float:
    """Return the SMOG grade of a text."""
    return smog(30 * sum(syllables(word) >= 3 for word in words(text)) / sentences(text))
