"""How each line of a rule came out for an ear: held, not recorded, not yet, or otherwise.

The slow look of an explanation; a plan never does this work.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from recall.care.ear import Ear
from recall.protocol.boxes import unless_lines
from recall.protocol.candidates import Compiled
from recall.protocol.context import Circumstance, context_word
from recall.protocol.lines import Line
from recall.protocol.matching import Matcher
from recall.protocol.rules import Rule
from recall.protocol.spans import read_range
from recall.protocol.words import FOUND_FLAGS, SIGNS, TESTED_FLAGS, TRACE_FLAGS
from recall.schedule.calendar import say_day

Outcome = Literal["holds", "not recorded", "not yet", "otherwise"]
_SPOKEN = {
    "risk": "risk",
    "said": "reported",
    "also": "also reported",
    "lately": "reported lately",
}
_MEASURED_FROM = {
    "hearing_loss": ("hearing_dB",),
    "better_ear_loss": ("hearing_dB",),
    "high_tone_loss": ("hearing_dB",),
    "worst_tone": ("hearing_dB",),
    "asymmetry": ("hearing_dB",),
    "air_bone_gap": ("hearing_dB", "bone_dB"),
}


class LineStory(msgspec.Struct, frozen=True):
    """How one line came out, and in words why."""

    line: str
    outcome: Outcome
    why: str = ""


class RuleStory(msgspec.Struct, frozen=True):
    """How a whole rule came out."""

    rule: Rule
    lines: tuple[LineStory, ...]
    blocked_by: str = ""

    @property
    def matched(self) -> bool:
        """Return whether it matched."""
        return not self.blocked_by and all(s.outcome == "holds" for s in self.lines)

    @property
    def failing(self) -> tuple[LineStory, ...]:
        """Return the lines that did not hold."""
        return tuple(s for s in self.lines if s.outcome != "holds")

    @property
    def nearly(self) -> bool:
        """Return whether its first line holds and exactly one thing stood in the way."""
        if self.lines[0].outcome != "holds":
            return False
        return len(self.failing) + bool(self.blocked_by) == 1


def tell_rule(
    compiled: Compiled,
    matcher: Matcher,
    bits: int,
    circumstance: Circumstance,
    ears: tuple[Ear | None, Ear | None],
) -> RuleStory:
    """Return how a rule came out for an ear; `ears` are this one and the other."""
    lines = tuple(tell_line(line, matcher, bits, circumstance, ears) for line in compiled.lines)
    blocked = [
        said
        for line in unless_lines(compiled.rule)
        if (said := tell_line(line, matcher, bits, circumstance, ears)).outcome == "holds"
    ]
    return RuleStory(compiled.rule, lines, blocked[0].line if blocked else "")


def tell_line(
    line: Line,
    matcher: Matcher,
    bits: int,
    circumstance: Circumstance,
    ears: tuple[Ear | None, Ear | None],
) -> LineStory:
    """Return how one line came out."""
    words = say_line(line)
    if line.kind == "range":
        return _tell_range(line, words, circumstance)
    if bits & matcher.bits[line]:
        return LineStory(words, "holds")
    if line.namespace in ("person", "report"):
        return LineStory(words, "not recorded", "not recorded")
    ear = ears[0] if line.namespace == "ear" else ears[1]
    fields = _fields_of(line.word)
    found = [f"{f.replace('_', ' ')}: {_say(getattr(ear, f))}" for f in fields if _has(ear, f)]
    if not found:
        return LineStory(words, "not recorded", "not recorded")
    return LineStory(words, "otherwise", f"recorded as {', '.join(found)}")


def _tell_range(line: Line, words: str, circumstance: Circumstance) -> LineStory:
    word = context_word(line.namespace, line.word)
    assert word is not None
    wanted, value = read_range(line.wanted[0]), word.get(circumstance)
    if value is None:
        held = wanted.never
        return LineStory(words, "holds" if held else "not recorded", "has not happened")
    if not isinstance(value, tuple):
        held = wanted.holds(value)
        return LineStory(words, "holds" if held else "otherwise", f"it is {_say(value)}")
    start, end = value
    if wanted.holds_between(start, end):
        return LineStory(words, "holds", f"since {say_day(start)}")
    starts = wanted.starts_on(start)
    if starts is not None and starts > end:
        return LineStory(words, "not yet", f"not before {say_day(starts)}")
    return LineStory(words, "otherwise", f"it has been so since {say_day(start)}")


def say_line(line: Line) -> str:
    """Return a line in words.

    >>> from recall.protocol.lines import read_line
    >>> say_line(read_line("r", "ear", "effusion", "suspected or worse"))
    'effusion suspected or worse'
    """
    word, wanted = line.word.replace("_", " "), " or ".join(line.wanted).replace("_", " ")
    where = {"other": "other ear: ", "person": "", "report": "", "course": "", "ear": ""}
    if line.word in _SPOKEN:
        word = _SPOKEN[line.word]
    if wanted == "true":
        return f"{where[line.namespace]}{word}"
    return f"{where[line.namespace]}{word} {wanted}"


_FOUND_FROM = {
    "runs_from_canal": ("discharge", "canal_skin", "treated", "drum_seen"),
    "wax_lies_in": ("wax_left", "wax_found", "clearance"),
}


def _fields_of(word: str) -> tuple[str, ...]:
    """Return the fields of an ear that a word is read off."""
    if word in SIGNS:
        return tuple(dict.fromkeys(field for field, _ in SIGNS[word]))
    if word in TRACE_FLAGS:
        return ("tympanogram",)
    if word in FOUND_FLAGS:
        return _FOUND_FROM[word]
    if word in TESTED_FLAGS:
        return ("hearing_after", "hearing_dB", "hearing_screen")
    return _MEASURED_FROM.get(word, (word,))


def _has(ear: Ear | None, field: str) -> bool:
    return ear is not None and getattr(ear, field) is not None


def _say(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{hz} Hz {_say(level)}" for hz, level in value.items())
    if isinstance(value, float):
        return f"{value:g}"
    return str(value).replace("_", " ")
