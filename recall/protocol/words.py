"""The words that a rule's conditions may use, each declared once with its kind.

scale   ordered values or numbers; a rule can only ask for a value "or worse"
flag    recorded true; a rule can only ask for `true`, or for any of several flags
names   context: any of the named values, never the normal one
range   context: ages, clocks, counts

Nothing can be conditioned on "normal" or "not recorded": a rule for the worse finding
simply wins. That is what makes a plan safe to read: recording a worse value can only
bring a date forward.
"""

from __future__ import annotations

from typing import Literal, get_args

from recall.care.case import ReportWord, RiskWord
from recall.protocol.context import context_word

Kind = Literal["scale", "flag", "names", "range"]

ORDERS: dict[str, tuple[str, ...]] = {
    "wax_found": ("none", "some", "partial", "occluding"),
    "wax_left": ("none", "some", "partial", "occluding"),
    "drum_seen": ("full", "part", "none"),
    "effusion": ("absent", "suspected", "present"),
    "hearing_after": ("better", "same", "worse"),
    "tensa_grade": ("0", "1", "2", "3", "4"),
    "attic_grade": ("0", "1", "2", "3", "4"),
    "tympanogram": ("A", "C1", "C2", "flat"),
}
"""Scales with named values, mildest first."""

MEASURED = ("hearing_loss", "better_ear_loss", "asymmetry", "air_bone_gap")
"""Scales in dB, worked out by the classifiers of `care.hearing`."""

NAMES: dict[str, tuple[str, ...]] = {
    "mass_behind_drum": ("white", "red"),
    "perforation": ("central", "marginal", "attic", "healed"),
    "perforation_cause": ("trauma", "infection", "unknown"),
    "discharge": ("clear", "purulent", "blood"),
    "canal_skin": ("inflamed", "fungal"),
    "foreign_body": ("button_battery", "unidentified", "other"),
    "grommet": ("in_place", "blocked", "in_canal", "gone"),
    "hearing_screen": ("not_passed", "could_not_test"),
    "not_examined": ("refused", "not_attempted"),
}
"""Context words of an ear. The normal value of each is left out on purpose."""

FLAGS: tuple[str, ...] = (
    "red",
    "bulging",
    "bullae",
    "scutum_erosion",
    "attic_crust",
    "granulation",
    "polyp",
    "keratin",
    "blood_behind_drum",
    "perforation_new",
    "canal_swollen_shut",
    "canal_narrow",
    "exostoses",
    "cellulitis",
    "mastoid_swelling",
    "pinna_lesion",
    "treated",
    "tympanosclerosis",
    "grommet_long_term",
    "cavity",
    "cavity_quiet",
)
"""Flags that are fields of an ear."""

DERIVED_FLAGS: dict[str, tuple[str, object]] = {
    "base_unseen": ("pocket_base_seen", False),
    "attic_unseen": ("attic_seen", False),
    "tensa_fixed": ("tensa_mobile", False),
    "clearance_failed": ("clearance", "failed"),
    "could_not_examine": ("examined", False),
    "cleared": ("clearance", "cleared"),
    "hearing_back": ("hearing_after", "better"),
}
"""Flags that are one recorded value of a field which is not a flag by itself."""

SIGNS: dict[str, tuple[tuple[str, object], ...]] = {
    "disease_sign": (
        ("keratin", True),
        ("attic_crust", True),
        ("scutum_erosion", True),
        ("granulation", True),
        ("polyp", True),
        ("attic_grade", 3),
        ("attic_grade", 4),
        ("perforation", "marginal"),
        ("perforation", "attic"),
    ),
    "acute_infection": (("bulging", True), ("bullae", True)),
    "canal_ill": (
        ("canal_skin", "inflamed"),
        ("canal_skin", "fungal"),
        ("canal_swollen_shut", True),
    ),
    "drum_unseen": (("drum_seen", "none"), ("examined", False)),
    "drum_changed": (
        ("effusion", "suspected"),
        ("effusion", "present"),
        ("red", True),
        ("bulging", True),
        ("blood_behind_drum", True),
        ("mass_behind_drum", "white"),
        ("mass_behind_drum", "red"),
    ),
    "wax_out": (("clearance", "cleared"), ("wax_left", "none"), ("wax_left", "some")),
}
"""Flags that any of several recorded findings makes: each is listed with its value."""

TRACE_FLAGS: dict[str, str] = {
    "trace_of_a_hole": "flat_hole",
    "trace_of_a_blocked_probe": "flat_blocked",
    "trace_of_fluid": "flat_fluid",
}
"""Flags read off a flat trace with its volume, by the pattern of `care.tympanogram`."""

REPORTS: tuple[str, ...] = get_args(ReportWord)
RISKS: tuple[str, ...] = get_args(RiskWord)
RISKS_OF_BOTH_EARS: frozenset[str] = frozenset({"previous_cholesteatoma"})
"""Risks that hold for the other ear too: it is abnormal in nearly half of these children."""
SPOKEN = (("person", "risk"), ("report", "said"), ("report", "also"))
"""Flag lines with a list: any of the words named. `also` is a second line beside `said`."""


def kind_of(namespace: str, name: str) -> Kind | None:
    """Return the kind of a word, or None where no such word is declared.

    >>> kind_of("ear", "effusion"), kind_of("course", "fluid_known"), kind_of("ear", "colour")
    ('scale', 'range', None)
    """
    if namespace in ("ear", "other"):
        if name in ORDERS or name in MEASURED:
            return "scale"
        if name in NAMES:
            return "names"
        flags = (FLAGS, DERIVED_FLAGS, SIGNS, TRACE_FLAGS)
        return "flag" if any(name in known for known in flags) else None
    if (namespace, name) in SPOKEN:
        return "flag"
    return "range" if context_word(namespace, name) else None
