"""The measure of plain words itself, against published examples and a pronouncing dictionary."""

from __future__ import annotations

import pytest

from tests.letters import readability

# The example of the encyclopaedia's article on the Flesch-Kincaid tests: 13 words, 24 syllables,
# grade 11.3.
PLATYPUS = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."


def test_grade_of_the_published_example() -> None:
    assert round(readability.flesch_kincaid(13, 1, 24), 1) == 11.3
    assert len(readability.words(PLATYPUS)) == 13
    assert readability.sentences(PLATYPUS) == 1


def test_published_example_never_reads_easier_than_published() -> None:
    """Its count takes Australian and reptilian as three syllables each; dictionaries give four."""
    assert 24 <= sum(map(readability.syllables, readability.words(PLATYPUS))) <= 26
    assert readability.flesch_kincaid_grade(PLATYPUS) >= 11.2


@pytest.mark.parametrize(
    ("at_least", "at_most", "grade"),
    [
        *((3, 6, 5), (7, 12, 6), (13, 20, 7), (21, 30, 8), (31, 42, 9), (43, 56, 10)),
        *((57, 72, 11), (73, 90, 12), (91, 110, 13), (111, 132, 14), (133, 156, 15)),
    ],
)
def test_smog_is_within_its_standard_error_of_the_published_table(
    at_least: int, at_most: int, grade: int
) -> None:
    """McGraw's conversion table for 30 sentences; McLaughlin's standard error is 1.5 grades."""
    for count in range(at_least, at_most + 1):
        assert abs(readability.smog(count) - grade) <= 1.5


def test_automated_index_counts_letters_words_and_sentences() -> None:
    """Worked by hand, for want of a published example: 4.71 x 20 / 5 + 0.5 x 5 / 1 - 21.43."""
    assert readability.automated_index("We rang the clinic twice.") == pytest.approx(-0.09)


# The CMU Pronouncing Dictionary, by the vowels of its entries.
SYLLABLES = {
    1: "eight please called times moved ear write here next we've",
    2: "little wanted pages over better asking water phone's open something elsewhere",
    3: "appointment hospital remember another telephone important sincerely",
    4: "usually practitioner january information",
    5: "unfortunately",
}


@pytest.mark.parametrize(
    ("count", "word"), [(n, word) for n, line in SYLLABLES.items() for word in line.split()]
)
def test_syllables_are_those_of_the_dictionary(count: int, word: str) -> None:
    assert readability.syllables(word) == count


def test_figures_count_as_one() -> None:
    assert readability.syllables("999") == 1


def test_a_fragment_is_no_sentence() -> None:
    assert readability.sentences("Please ring us soon. Yours sincerely. Thank you!") == 1
