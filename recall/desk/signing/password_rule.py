"""Which passwords are taken: long, and nothing that anybody would try first.

NIST SP 800-63B-4 (2025), section 3.1.1.2: a password that is the only proof has at least 15
characters, each code point counted as one; at least 64 are taken; no mixture of kinds is asked
for; what is expected or commonly used is refused. No list of passwords that became known comes
with the program: it looks for what such lists hold at this length, one thing over and over.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from recall.desk.signing.hashing import normal
from recall.errors import InputError

SHORTEST = 15
"""Characters, by the source above."""
LONGEST = 1000
"""Characters; a bound of our own, far above the 64 of the source."""
_DIFFERENT = 6
"""Different characters at least, and as many beside the expected words: common practice, no
source."""
_ROW = 0.6
"""The share of characters that may follow the one before them in their order."""
_EXPECTED = ("password", "passwort", "letmein", "welcome", "qwerty", "recall", "secret")


def check_password(password: str, known: Sequence[str]) -> None:
    """Refuse a password that is too short, or that is expected; `known` are words of the place.

    Raises:
        InputError: it cannot be taken, and why.
    """
    text = normal(password)
    if len(text) < SHORTEST:
        raise InputError(
            f"A password has {SHORTEST} characters or more.",
            hint="Several words that do not belong together are long, and can be remembered.",
        )
    if len(text) > LONGEST:
        raise InputError(f"A password has {LONGEST} characters at the most.")
    if not all(ch.isprintable() for ch in text):
        raise InputError("A password is typed text.", hint="Leave control characters out.")
    if _is_expected(text.casefold(), known):
        raise InputError(
            "That password is one of the first that anybody would try.",
            hint="Leave out names of people and of the practice, rows of keys and repetitions.",
        )


def _is_expected(text: str, known: Sequence[str]) -> bool:
    in_a_row = sum(abs(ord(b) - ord(a)) <= 1 for a, b in pairwise(text))
    if len(set(text)) < _DIFFERENT or in_a_row > _ROW * len(text):
        return True
    words = {part for word in known for part in word.casefold().split() if len(part) > 2}
    rest = text
    for word in sorted({*words, *_EXPECTED}, key=len, reverse=True):
        rest = rest.replace(word, "")
    letters = {ch for ch in rest if ch.isalpha()}
    return rest != text and len(letters) < _DIFFERENT
