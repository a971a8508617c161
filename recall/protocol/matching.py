"""Which rules match an ear at a visit.

Every scale and flag line of the protocol is one bit. An ear's findings switch bits on,
a rule needs some of them and is blocked by others, so the rules that can match a set of
bits are found once and remembered. Only their context lines are then looked at.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import date
from operator import attrgetter
from typing import Any, TypeVar

import msgspec

from recall.care.course import Course
from recall.care.ear import EAR_FIELDS, Ear
from recall.care.hearing import asymmetry_dB, high_tone_average, worst_of_four
from recall.care.one_look import clears_an_object, wax_lies_in
from recall.care.running import runs_from_the_canal
from recall.care.tympanogram import classify
from recall.protocol.candidates import (
    Candidates,
    Compiled,
    by_rarest_bit,
    left_by,
    place_in_file,
    sorted_out,
)
from recall.protocol.context import Circumstance
from recall.protocol.context_lines import context_tests, read_context
from recall.protocol.lines import Line, read_line, refuse
from recall.protocol.rules import Rule
from recall.protocol.spans import read_range
from recall.protocol.words import (
    FLAGS,
    MEASURED,
    NAMES,
    ORDERS,
    REPORTS,
    RISKS,
    SIGNS,
    TESTED_FLAGS,
    TRACE_FLAGS,
)

_REMEMBER = 50_000
T = TypeVar("T")
Pair = tuple[T, T]
"""One for the right and one for the left ear."""


_FLAG_SOURCES: tuple[tuple[str, str, object], ...] = (
    *((sign, source, wanted) for sign, several in SIGNS.items() for source, wanted in several),
)
"""Each flag that is read off a field's value: the flag, the field, the value."""


class Matcher:
    """The compiled rules of one protocol."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self.bits: dict[Line, int] = {}
        self.context: dict[Line, int] = {}
        self.compiled = tuple(self._compile(r, n) for n, r in enumerate(rules))
        self._tests, self._gates = context_tests(self.context)
        days = {c.since for c in self.compiled} | {c.until for c in self.compiled if c.until}
        self._changes = sorted(days)
        tables = {name: table for name in EAR_FIELDS if (table := self._values_of(name))}
        # two names more, so that it gives a tuple however few fields the rules read
        self._values = attrgetter(*tables, "examined", "clearance")
        self._tables = tuple(table.get for table in tables.values())
        self._measured = {w: self._thresholds("ear", w) for w in MEASURED}
        self._traces = self._thresholds("ear", "tympanogram")
        self._shift = {b: self._other_bit(line) for line, b in self.bits.items()}
        self._other_mask = sum(b for b, o in self._shift.items() if o)
        self._risk_bits = self._set_bits("person", "risk", RISKS)
        kinds = ("said", "also", "lately")
        said, also, self._lately_bits = (self._set_bits("report", w, REPORTS) for w in kinds)
        self._said_bits = {word: said[word] | also[word] for word in REPORTS}
        self._tested_bits = tuple(self._flag_bit(word) for word in TESTED_FLAGS)
        self._ages: dict[int, int] = {}
        self._known: tuple[dict[int, Candidates], ...] = tuple(
            {} for _ in range(len(self._changes) + 1)
        )
        self._by_bit = tuple(
            by_rarest_bit([c for c in self.compiled if c.in_force(day)])
            for day in (date.min, *self._changes)
        )
        self._others: dict[int, int] = {}
        self._looked_up: dict[tuple[Any, ...], int] = {}

    # -- compiling ---------------------------------------------------------------

    def _compile(self, rule: Rule, number: int) -> Compiled:
        compiled = Compiled(rule, number)
        lines, holds, ranges = [], [], []
        for namespace, words in rule.when.items():
            for word, value in words.items():
                line = read_line(rule.id, namespace, word, value)
                lines.append(line)
                if line.kind == "range":
                    ranges.append((line, read_context(line)[1]))
                if line.kind != "range" or _is_age(line):
                    compiled.need |= self._bit(line)
                else:
                    holds.append(self._place(line))
        if not lines:
            refuse(f"Rule {rule.id}", "it has no condition")
        compiled.lines, compiled.holds = tuple(lines), tuple(holds)
        compiled.range_lines = tuple(ranges)
        compiled.blocks = self._compile_unless(rule, compiled)
        return compiled

    def _compile_unless(self, rule: Rule, compiled: Compiled) -> int:
        blocks = 0
        if rule.unless and not rule.unless_because:
            refuse(f"Rule {rule.id}", "an `unless` needs its reason in `unless_because`")
        for namespace, words in rule.unless.items():
            for word, value in words.items():
                line = read_line(rule.id, namespace, word, value)
                if line.kind != "range" or _is_age(line):
                    blocks |= self._bit(line)
                else:
                    compiled.lacks += (self._place(line),)
        return blocks

    def _bit(self, line: Line) -> int:
        if line.namespace == "other":
            self._bit_of(msgspec.structs.replace(line, namespace="ear"))
        return self._bit_of(line)

    def _place(self, line: Line) -> int:
        """Return the place of a context line: many rules share one, and it is tried once."""
        return self.context.setdefault(line, len(self.context))

    def _bit_of(self, line: Line) -> int:
        return self.bits.setdefault(line, 1 << len(self.bits))

    # -- from findings to bits -----------------------------------------------------

    def _thresholds(self, namespace: str, word: str) -> tuple[tuple[float, int], ...]:
        return tuple(
            (line.low or 0, bit)
            for line, bit in self.bits.items()
            if line.namespace == namespace and line.word == word
        )

    def _set_bits(self, namespace: str, word: str, values: Iterable[str]) -> dict[str, int]:
        lines = [
            (ln, b) for ln, b in self.bits.items() if (ln.namespace, ln.word) == (namespace, word)
        ]
        return {v: sum(b for ln, b in lines if v in ln.wanted) for v in values}

    def _values_of(self, name: str) -> dict[Any, int] | None:
        """Return the bits that each value of an ear's field switches on."""
        if name in ORDERS and name != "tympanogram":
            order = ORDERS[name]
            thresholds = self._thresholds("ear", name)
            found: dict[Any, int] = {}
            for place, value in enumerate(order):
                key = int(value) if value.isdigit() else value
                found[key] = sum(b for low, b in thresholds if place >= low)
        else:
            found = dict(self._set_bits("ear", name, NAMES.get(name, ())).items())
            if name in FLAGS:
                found = {True: self._flag_bit(name)}
        for flag, source, wanted in _FLAG_SOURCES:
            if source == name:
                found[wanted] = found.get(wanted, 0) | self._flag_bit(flag)
        found = {value: bits for value, bits in found.items() if bits}
        return found or None

    def _flag_bit(self, name: str) -> int:
        return self.bits.get(Line("ear", name, "flag", ("true",)), 0)

    def _other_bit(self, line: Line) -> int:
        if line.namespace != "ear":
            return 0
        return self.bits.get(msgspec.structs.replace(line, namespace="other"), 0)

    def ear_bits(self, ear: Ear, child: bool, course: Course) -> int:
        """Return the bits of one ear's own findings; its course has taken the visit in."""
        values = self._values(ear)
        bits = self._looked_up.get(values, -1)
        if bits < 0:
            if len(self._looked_up) >= _REMEMBER:
                self._looked_up.clear()
            bits = self._looked_up[values] = self._look_up(values)
        if ear.foreign_body is not None and clears_an_object(ear):
            bits &= ~self._flag_bit("wax_out")
        if ear.tympanogram is not None:
            bits |= self._trace_bits(ear, child)
        bits |= self._found_bits(ear, course)
        if course.mean_today is not None:
            bits |= self._over("hearing_loss", course.mean_today)
        if course.gap_today is not None:
            bits |= self._over("air_bone_gap", course.gap_today)
        if ear.hearing_dB is not None:
            high = high_tone_average(ear.hearing_dB)
            bits |= self._over("high_tone_loss", high) if high is not None else 0
            worst = worst_of_four(ear.hearing_dB)
            bits |= self._over("worst_tone", worst) if worst is not None else 0
        return bits

    def _found_bits(self, ear: Ear, course: Course) -> int:
        """Return the bits of `FOUND_FLAGS`, each read off several findings of an ear."""
        bits = self._flag_bit("wax_lies_in") if wax_lies_in(ear) else 0
        if ear.discharge is None or course.not_whole_since or course.trace_of_hole_on:
            return bits
        return bits | (self._flag_bit("runs_from_canal") if runs_from_the_canal(ear) else 0)

    def _look_up(self, values: tuple[Any, ...]) -> int:
        bits = 0
        for value, bits_of in zip(values, self._tables, strict=False):
            if value is not None:
                bits |= bits_of(value, 0)
        return bits

    def _trace_bits(self, ear: Ear, child: bool) -> int:
        assert ear.tympanogram is not None
        found = classify(ear.tympanogram, child)
        bits = 0
        if found.letter is not None and found.pattern not in ("flat_hole", "flat_blocked"):
            place = ORDERS["tympanogram"].index(found.letter.replace("B", "flat"))
            bits = sum([b for low, b in self._traces if place >= low])
        for flag, pattern in TRACE_FLAGS.items():
            if found.pattern == pattern:
                bits |= self._flag_bit(flag)
        return bits

    def _over(self, word: str, value: float) -> int:
        return sum([bit for low, bit in self._measured[word] if value >= low])

    def pair_bits(self, ears: Pair[Ear | None], means: Pair[float | None]) -> Pair[int]:
        """Return the bits that both ears' tests make together: for the right and the left ear.

        A difference belongs to the worse ear, or to both where neither mean is worse.
        """
        right, left = ears
        if right is None or left is None or right.hearing_dB is None or left.hearing_dB is None:
            return 0, 0
        difference = asymmetry_dB(right.hearing_dB, left.hearing_dB)
        apart = self._over("asymmetry", difference) if difference is not None else 0
        mean, other = means
        if mean is None or other is None:
            return apart, apart
        both = self._over("better_ear_loss", min(mean, other))
        return both | (apart if mean >= other else 0), both | (apart if other >= mean else 0)

    def tested_bits(self, hears_well: bool, tested_well: bool) -> int:
        """Return the bits of how well an ear is known to hear: `TESTED_FLAGS` in their order."""
        well, tested = self._tested_bits
        return (well if hears_well else 0) | (tested if tested_well else 0)

    def seen_across(self, bits: int) -> int:
        """Return what an ear's bits mean when looked at from the other ear."""
        if not bits & self._other_mask:
            return 0
        known = self._others.get(bits)
        if known is None:
            known = sum(o for b, o in self._shift.items() if o and bits & b)
            self._others[bits] = known
        return known

    def age_bits(self, age: int) -> int:
        """Return the bits of the age lines that an age lies in."""
        known = self._ages.get(age)
        if known is None:
            lines = ((line, bit) for line, bit in self.bits.items() if _is_age(line))
            known = sum(bit for line, bit in lines if read_range(line.wanted[0]).holds(age))
            self._ages[age] = known
        return known

    def risk_bits(self, words: Iterable[str]) -> int:
        """Return the bits of risks that hold for an ear."""
        bits = 0
        for word in words:
            bits |= self._risk_bits[word]
        return bits

    def said_bits(self, words: Iterable[str], lately: Iterable[str] = ()) -> int:
        """Return the bits of what was reported for an ear, and of what of it is no old story."""
        bits = 0
        for word in words:
            bits |= self._said_bits[word]
        for word in lately:
            bits |= self._lately_bits[word]
        return bits

    # -- matching ------------------------------------------------------------------

    def candidates(self, bits: int, on: date) -> Candidates:
        """Return the rules in force on a day whose scale, flag and age lines hold."""
        period = bisect_right(self._changes, on)
        remembered = self._known[period]
        known = remembered.get(bits)
        if known is None:
            if len(remembered) >= _REMEMBER:
                remembered.clear()
            known = remembered[bits] = sorted_out(left_by(bits, self._by_bit[period]), self._gates)
        return known

    def matches(self, bits: int, circumstance: Circumstance) -> Sequence[Rule]:
        """Return the rules that match, in the protocol's order."""
        may = self.candidates(bits, circumstance.on)
        tests = self._tests
        found = [c for c in may.held_back if not self._lack(c, circumstance)]
        if may.behind:
            tried: dict[int, bool] = {}
            for is_there, several in zip(may.gates(circumstance), may.behind, strict=False):
                if not is_there:
                    continue
                for shared, rules in several:
                    if tests[shared](circumstance):
                        found += [
                            c for c, rest in rules if self._holds(c, rest, circumstance, tried)
                        ]
        if not found:
            return may.rules
        found += may.free
        found.sort(key=place_in_file)
        return [c.rule for c in found]

    def _holds(
        self, c: Compiled, rest: tuple[int, ...], circumstance: Circumstance, tried: dict[int, bool]
    ) -> bool:
        """Return whether the rest of a rule's context lines hold, and none that holds it back."""
        for place in rest:
            held = tried.get(place)
            if held is None:
                held = tried[place] = self._tests[place](circumstance)
            if not held:
                return False
        return not c.lacks or not self._lack(c, circumstance)

    def _lack(self, c: Compiled, circumstance: Circumstance) -> bool:
        """Return whether a context line holds that holds the rule back."""
        return any(self._tests[place](circumstance) for place in c.lacks)


def _is_age(line: Line) -> bool:
    """Return whether a line asks for an age, which is the same for both ears all day."""
    return (line.namespace, line.word) == ("person", "age")
