"""What the GP is asked for that gives way to ENT, by rule: infections, vertigo, a numb face."""

from __future__ import annotations

INFECTION_AT_THE_GP = frozenset(
    {
        "canal-untreated",
        "canal-untreated-runs",
        "canal-untreated-fungal",
        "canal-untreated-at-risk",
        "canal-not-better",
        "canal-untreated-again",
        "pus-untreated",
        "acute-infection-untreated",
        "red-fluid-pain-child",
        "acute-not-better",
        "acute-treated-long",
        "acute-pain-long",
        "pus-not-better",
        "pus-treated-long",
    }
)
"""Rules that send an infection that is not treated, or not better, to the GP."""
VERTIGO_AT_THE_GP = frozenset({"vertigo-gp", "vertigo-today"})
VERTIGO_AT_ENT = frozenset(
    {
        "vertigo",
        "vertigo-told-loss",
        "vertigo-drum",
        "vertigo-hole",
        "vertigo-cavity",
        "vertigo-triad",
        "vertigo-injured-hole",
        "vertigo-before-hole",
        "vertigo-some-time-ago",
    }
)
ONE_ILLNESS_AT_ENT = frozenset({"vertigo-triad"})
"""What goes to ENT alone, with a copy to the GP: vertigo, tinnitus and a loss are one illness."""
FACE_AT_THE_GP = frozenset({"facial-numbness"})
PULSE_AT_THE_GP = frozenset({"tinnitus-pulsatile-gp"})
PULSE_AT_ENT = frozenset({"tinnitus-pulsatile-drum"})
"""A noise in time with the pulse behind a drum that is not normal: ENT looks for the cause, within
two weeks (Devon formulary); that the GP need not be asked about it as well, common practice."""
MAY_GIVE_WAY = INFECTION_AT_THE_GP | VERTIGO_AT_THE_GP | FACE_AT_THE_GP | PULSE_AT_THE_GP
FACE_AT_ENT = frozenset(
    {
        "facial-numbness-with-loss",
        "facial-numbness-with-difference",
        "facial-weakness",
        "facial-weakness-with-loss",
        "facial-weakness-disease",
        "facial-weakness-canal",
        "facial-weakness-discharge",
    }
)
