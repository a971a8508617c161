"""Small rules of the desk that are pure: waits after wrong passwords, and which passwords go."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from recall.desk.signing.password_rule import check_password
from recall.desk.signing.waiting import say_wait, still_to_wait, wait_after
from recall.errors import InputError

NOW = datetime(2026, 9, 1, 9, tzinfo=UTC)
SECOND, MINUTE, DAY = timedelta(seconds=1), timedelta(minutes=1), timedelta(days=1)


def test_waits_double_up_to_a_quarter_of_an_hour_and_a_day_after_the_hundredth() -> None:
    """NIST SP 800-63B-4 (2025), section 3.2.2: 100 wrong ones in a row at the most."""
    doubling = [0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512]
    assert [wait_after(n) for n in range(14)] == [n * SECOND for n in doubling]
    assert [wait_after(n) for n in (14, 15, 30, 99)] == [15 * MINUTE] * 4
    assert [wait_after(n) for n in (100, 101)] == [DAY] * 2


def test_a_wait_is_what_is_left_of_it_and_never_longer_than_itself() -> None:
    assert still_to_wait(None, 9, NOW) == still_to_wait(NOW, 9, NOW) == 0 * SECOND
    assert still_to_wait(NOW + SECOND, 9, NOW) == SECOND
    assert still_to_wait(NOW + DAY, 9, NOW) == 32 * SECOND, "the clock was put back"


@pytest.mark.parametrize(
    ("wait", "words"),
    [
        (SECOND, "1 second"),
        (1.5 * SECOND, "2 seconds"),
        (119 * SECOND, "119 seconds"),
        (120 * SECOND, "2 minutes"),
        (121 * SECOND, "3 minutes"),
        (119 * MINUTE, "119 minutes"),
        (120 * MINUTE, "2 hours"),
        (DAY - SECOND, "24 hours"),
    ],
)
def test_a_wait_in_words_is_never_too_short(wait: timedelta, words: str) -> None:
    assert say_wait(wait) == words


SHORT = (
    "A password has 15 characters or more.",
    "Several words that do not belong together are long, and can be remembered.",
)
FIRST = (
    "That password is one of the first that anybody would try.",
    "Leave out names of people and of the practice, rows of keys and repetitions.",
)


@pytest.mark.parametrize(
    ("password", "refused"),
    [
        ("maple kite 7 ox", None),
        ("maple kite 7 o", SHORT),
        ("mapleo kite 7 o", None),
        (" maple kite 7 ", SHORT),
        ("ab" * 500, FIRST),
        ("maple kite " + "7 ox " * 198, ("A password has 1000 characters at the most.", None)),
        ("maple kite 7 \x07 ox",
         ("A password is typed text.", "Leave control characters out.")),
        ("aaaaabbbbbccccc", FIRST),
        ("abcdefghijklmnop", FIRST),
        ("wrenfield1234567", FIRST),
        ("password-recall-1", FIRST),
        ("wrenfield lake ox hum", None),
    ],
)  # fmt: skip
def test_which_passwords_go(password: str, refused: tuple[str, str | None] | None) -> None:
    """NIST SP 800-63B-4 (2025), section 3.1.1.2: 15 characters, and nothing that is expected."""
    if refused is None:
        check_password(password, ("Wrenfield Ear Care",))
        return
    with pytest.raises(InputError) as error:
        check_password(password, ("Wrenfield Ear Care",))
    assert (error.value.message, error.value.hint or None) == refused
