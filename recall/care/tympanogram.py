"""Tympanograms by a named scheme, with the raw numbers kept. Pure. 226 Hz probe tone.

Scheme: the modified Jerger classification of UK primary-care trials and a
Cochrane review (CMAJ, autoinflation trial, table 1; R): type A +200 to -99 daPa,
C1 -100 to -199, C2 -200 to -399, B flat, or -400 and beyond. It assumes a normal
canal volume, no wax, no hole and no grommet. Beside it stands the classic type
(Jerger 1970; from memory), which parts A by compliance.

Rules for what the published texts leave open:

- A type reaches up to the next one's beginning: -99.5 is A, exactly -100 is C1
  (the classic scheme calls -100 A), -199.5 is C1, -399.5 is C2.
- A trace with a peak at -400 or beyond is type B by its pressure, and its pattern
  stays "peak": it says nothing about a hole.
- A peak above +200 has no type in this scheme: `letter` is None.
- A "peak" lower than 0.1 ml is no peak: flat (common practice, no source).
- Compliance of exactly 0.3 or 1.6 ml is inside the usual range.
- Flat without a recorded volume is "volume unknown", never fluid. With one: below
  0.2 ml wax or the probe against the wall (instrument manual, R); above 2.5 ml in
  adults, 1.0 ml in children a hole or an open grommet (from memory); between,
  consistent with fluid. Where published limits disagree (adults 2.0-2.5; children
  1.0-1.5) `boundary` is true.
- Under about seven months of age a 226 Hz trace is unreliable (Onusko, Am Fam
  Physician 2004;70:1713; R): who calls this must not rely on it there.
"""

from __future__ import annotations

from typing import Literal

import msgspec
from msgspec import UNSET

from recall.care.measured import Tympanogram

Letter = Literal["A", "C1", "C2", "B"]
Classic = Literal["A", "As", "Ad", "B", "C"]
Pattern = Literal["peak", "flat_volume_unknown", "flat_fluid", "flat_hole", "flat_blocked"]

SCHEME = "modified Jerger, 226 Hz"
EDITION = "UK primary-care trials, as tabled in CMAJ"

PEAK_MOST = 200.0
C1_FROM, C2_FROM, B_FROM = -100.0, -200.0, -400.0
NO_PEAK_UNDER = 0.1
"""ml. Common practice, no source."""
COMPLIANCE = (0.3, 1.6)
"""ml. BSA 2013 adult range, as quoted (R2); the classic scheme's limits for As and Ad."""
BLOCKED_UNDER = 0.2
"""ml. Instrument manual: normal volume 0.2 to 2.0 (R)."""
HOLE_ABOVE = {"adult": 2.5, "child": 1.0}
"""ml. BSA 2013 adults 0.6-2.5 (R2), children 0.4-1.0 (from memory)."""
DISPUTED = {"adult": (2.0, 2.5), "child": (1.0, 1.5)}
"""ml. Adults: instrument manual against BSA. Children 6-13: 0.68-1.46 (Int J Audiol 2006;45:55)."""


class TympanogramClass(msgspec.Struct, frozen=True, kw_only=True):
    """One trace by the scheme, with the numbers it was judged by."""

    letter: Letter | None
    pattern: Pattern
    classic: Classic
    boundary: bool = False
    """The volume lies where published limits disagree."""
    notes: tuple[str, ...] = ()
    peak_daPa: float | None = None  # noqa: N815
    compliance_ml: float | None = None
    volume_ml: float | None = None
    scheme: str = SCHEME
    edition: str = EDITION


def _letter(peak: float) -> Letter | None:
    if peak > PEAK_MOST:
        return None
    if peak > C1_FROM:
        return "A"
    if peak > C2_FROM:
        return "C1"
    return "C2" if peak > B_FROM else "B"


def _classic(peak: float, compliance: float) -> Classic:
    low, high = COMPLIANCE
    if peak < C1_FROM:
        return "C"
    if compliance < low:
        return "As"
    return "Ad" if compliance > high else "A"


def _flat(volume: float | None, child: bool) -> tuple[Pattern, bool]:
    """Return what a flat trace's volume says, and whether published limits disagree on it."""
    if volume is None:
        return "flat_volume_unknown", False
    if volume < BLOCKED_UNDER:
        return "flat_blocked", False
    who = "child" if child else "adult"
    low, high = DISPUTED[who]
    hole = volume > HOLE_ABOVE[who]
    return ("flat_hole" if hole else "flat_fluid"), low < volume <= high


def _notes(letter: Letter | None, pattern: Pattern, boundary: bool) -> tuple[str, ...]:
    notes = []
    if letter is None:
        notes.append("Peak above +200 daPa: outside the scheme.")
    if letter == "B" and pattern == "peak":
        notes.append("There is a peak, at -400 daPa or beyond: type B by its pressure.")
    if pattern == "flat_volume_unknown":
        notes.append("Flat, volume unknown: fluid, a hole and wax cannot be told apart.")
    if boundary:
        notes.append("Published limits of the canal volume disagree here.")
    return tuple(notes)


def _read_off(kind: str) -> tuple[Letter, Classic]:
    """Return both schemes' words for a type that somebody read off the trace."""
    if kind in ("As", "Ad"):
        return "A", kind  # type: ignore[return-value]
    if kind in ("C1", "C2"):
        return kind, "C"  # type: ignore[return-value]
    return kind, kind  # type: ignore[return-value]


def classify(trace: Tympanogram, child: bool) -> TympanogramClass:
    """Return a trace's type and what a flat one's volume says.

    >>> classify(Tympanogram(peak_daPa=-150, compliance_ml=0.4), child=True).letter
    'C1'
    >>> classify(Tympanogram(flat=True, volume_ml=0.7), child=True).pattern
    'flat_fluid'
    >>> classify(Tympanogram(type="B"), child=True).pattern
    'flat_volume_unknown'
    """
    peak = None if trace.peak_daPa is UNSET else trace.peak_daPa
    compliance = None if trace.compliance_ml is UNSET else trace.compliance_ml
    volume = None if trace.volume_ml is UNSET else trace.volume_ml
    letter: Letter | None = "B"
    classic: Classic = "B"
    peaked = False
    if peak is not None and compliance is not None and compliance >= NO_PEAK_UNDER:
        letter, classic, peaked = _letter(peak), _classic(peak, compliance), True
    elif trace.type is not UNSET:
        letter, classic = _read_off(trace.type)
        peaked = trace.type != "B"
    pattern: Pattern = "peak"
    boundary = False
    if not peaked:
        pattern, boundary = _flat(volume, child)
    return TympanogramClass(
        letter=letter,
        pattern=pattern,
        classic=classic,
        boundary=boundary,
        notes=_notes(letter, pattern, boundary),
        peak_daPa=peak,
        compliance_ml=compliance,
        volume_ml=volume,
    )
