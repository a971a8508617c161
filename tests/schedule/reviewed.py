"""What may take the place of something else in a plan, reviewed by hand and read from nowhere.

It says of each rule what may end it or stand for it, so that the sweep and the random properties
notice all else. Common practice, no source, where none is named.
"""

from __future__ import annotations

from datetime import date, timedelta

from recall.care.ear import SIDES, Side

Key = tuple[Side, str]
Row = tuple[date, int, tuple[str, ...]]
Standing = dict[Key, Row]
"""By ear and track, or ear and service: the last day, the urgency's rank, the rules."""

HIDDEN_BY_WAX = frozenset(
    {"view-adult", "view-child", "view-failed-twice-adult", "view-failed-twice-child"}
)
"""A drum that wax hides is no missing look: the wax is cleared within two weeks, which is sooner
than these ask for, and referred at the second visit (common practice, no source)."""
HEARD_BEHIND_WAX = frozenset({"concern-adult", "concern-after-wax", "concern-after-suction"})
"""A concern about an ear that wax stays in is tested once the wax is out (NICE NG98 (2018) 1.1.1);
the next try is within two weeks, sooner than the test would be."""
BESIDE_A_BATTERY = frozenset(
    {"wax-left-blocking", "wax-found-not-cleared", "wax-left-part", "wax-left-part-felt"}
)
"""Wax beside what may be a battery: both come out today, elsewhere (common practice)."""
PAIN_LOOKS = frozenset({"pain-look", "pain-look-undated", "bad-pain-look-undated"})
"""Looks for pain alone; an infection that explains it has rules of its own (common practice)."""
BLOCKED_LATELY = frozenset({"blocked-feeling-sudden", "blocked-feeling-new"})
BLOCKED = BLOCKED_LATELY | {"blocked-feeling-long"}
"""Tests for a blocked feeling: wax that is still in it comes out first, and fluid that is seen, a
cold or a change of pressure explain what began within days (common practice)."""
DULLED = frozenset({"barotrauma-hearing"})
"""A difficulty of no date after a flight or a dive, with fluid or blood seen behind the drum, is
tested within 3 days (NICE NG98 (2018) 1.1.2: not explained by the middle ear; common practice)."""
EXPLAINS: dict[tuple[str, str], frozenset[str]] = {
    ("report", "recent_cold"): frozenset(
        {"fluid-over-forty", "fluid-over-forty-again", *BLOCKED_LATELY}
    ),
    ("effusion", "present"): frozenset(
        {"trace-flat", "trace-c2-child", "loss-child-refer", *BLOCKED_LATELY}
    ),
    ("report", "barotrauma"): frozenset({"fluid-over-forty", *BLOCKED_LATELY}),
    ("wax_left", "occluding"): HIDDEN_BY_WAX | HEARD_BEHIND_WAX | BLOCKED,
    ("clearance", "failed"): HIDDEN_BY_WAX | HEARD_BEHIND_WAX | BLOCKED,
    ("foreign_body", "unidentified"): BESIDE_A_BATTERY,
    ("foreign_body", "button_battery"): BESIDE_A_BATTERY,
}
"""What may take away what these rules ask: fluid that came with a cold is left out of the
guideline's referral (NICE NG98 (2018) 1.1, as quoted), as after a flight or a dive by common
practice; fluid that is seen needs no second trace, and has its own looks, and with it a child's
loss is tested again at three months (NICE NG233 (2023) as quoted), where nobody is concerned; wax
that hides the drum is cleared first, and wax beside a battery with it. Nothing else may, in all of
the sweep."""

GIVE_WAY_AT_THE_GP = frozenset(
    {
        "canal-untreated", "canal-untreated-runs", "canal-untreated-fungal", "pus-untreated",
        "canal-untreated-at-risk", "canal-untreated-again",
        "canal-not-better", "acute-infection-untreated",
        "acute-not-better", "acute-treated-long", "acute-pain-long", "pus-not-better",
        "pus-treated-long",
    }
)  # fmt: skip
"""An infection that ENT sees at once is not sent to the GP as well."""
AT_ONCE = frozenset(
    {"canal-shut", "canal-severe-pain", "canal-blood", "canal-bleeds", "object-ill", "object-pain"}
)
"""What ENT sees within 2 days, beside its emergencies."""
VERTIGO_AT_THE_GP = frozenset({"vertigo-gp", "vertigo-today"})
VERTIGO_AT_ENT = frozenset(
    {
        "vertigo", "vertigo-told-loss", "vertigo-drum", "vertigo-hole", "vertigo-cavity",
        "vertigo-some-time-ago", "vertigo-triad", "vertigo-injured-hole", "vertigo-before-hole",
    }
)  # fmt: skip
ONE_ILLNESS = frozenset({"vertigo-triad"})
"""Vertigo, tinnitus and a loss are one illness: ENT alone, with a copy to the GP."""
FACE_AT_THE_GP = frozenset({"facial-numbness"})
FACE_AT_ENT = frozenset(
    {
        "facial-numbness-with-loss",
        "facial-numbness-with-difference",
        "facial-weakness",
        "facial-weakness-with-loss",
    }
)
LOOKS_GIVE_WAY = PAIN_LOOKS | {
    "discharge-look", "canal-ill-at-risk", "canal-ill-frail", "canal-inflamed", "canal-fungal",
    "canal-hidden-at-risk", "canal-hidden-frail", "only-ear-canal",
    "canal-shut-look", "immune-discharge-early", "pus-hides-drum", "acute-infection-look",
    "keratin-plug-hides",
    "view-adult", "view-child",
}  # fmt: skip
"""Short looks of our own, which an ear that is seen today as an emergency does not need."""
HURT_TODAY = frozenset({"hurt-by-care-look", "bled-look", "dizzy-worse-call"})
"""What is looked at or rung about after care that hurt, which whoever sees that ear today does."""
OWN_LOOK = "disease-own-look"
OWN_LOOK_LASTS = timedelta(weeks=14)
"""Its own last day: joined with a look that was asked for before, it only seemed to be sooner."""
BONE_GRANULATES = frozenset({"canal-risk-granulation", "canal-frail-granulation"})
GRANULATION_ALONE = frozenset({"disease-granulation"})
OF_THE_DRUM = ("drum", "retraction", "perforation", "cavity")
DISEASE = ("disease-", "pocket-unseen-")
"""How rules begin that ask ENT about cholesteatoma, within two weeks or at once: one look of our
own stands beside them, for all that is seen of that drum."""
UNKNOWN_TESTS = frozenset(
    {
        "aid-hearing-test", "dementia-or-learning-disability", "down-under-six", "down-six-on",
        "down-six-on-loss", "cleft-under-five", "cleft-five-to-ten", "cleft-over-ten",
        "grommet-not-tested-here",
    }
)  # fmt: skip
"""Tests by risk, or in a grommet: where none is known of, one that is asked for anyway, no later,
will do."""


FLUID_TESTS = frozenset({"fluid-child-second-visit", "fluid-child-both", "fluid-child-concern"})
"""A test for fluid of one ear, no later, tests the other ear too."""
PULSE_AT_ENT, PULSE_AT_THE_GP = "tinnitus-pulsatile-drum", frozenset({"tinnitus-pulsatile-gp"})
VIEWS = frozenset({"view-adult", "view-child"})
"""Looks for a drum, which one at an object in front of it takes in."""
TRIES_GIVE_WAY = BESIDE_A_BATTERY | {"wax-failed", "object-look"}
"""Tries of our own at wax or at an object, for which nobody waits whose ear is seen today."""
SEES_IN = frozenset(
    {
        "canal-frail-discharge-pain", "canal-frail-granulation", "canal-frail-hidden-pain",
        "canal-frail-severe-pain", "canal-risk-discharge-pain", "canal-risk-granulation",
        "canal-risk-hidden-pain", "canal-risk-severe-pain", "cellulitis", "barotrauma-inner-ear",
        "battery-or-unknown-object", "disease-vertigo", "facial-weakness", "head-injury-bled",
        "head-injury-blood-behind", "head-injury-discharge", "immune-discharge-lasting",
        "mastoid-swelling", "pocket-unseen-discharge-vertigo", "running-cavity-vertigo",
        "running-hole-vertigo", "fresh-hole-vertigo", "hurt-by-care-vertigo",
        "facial-weakness-disease", "facial-weakness-canal", "facial-weakness-discharge",
        "facial-numbness-with-difference", "facial-numbness-with-loss",
        "facial-weakness-with-loss", "sudden-loss-now", "sudden-loss-quick-worsening",
        "sudden-loss-since-days", "concern-sudden", "canal-risk-runs-pain",
        "head-injury-clear-late", "barotrauma-hearing", "canal-risk-pain-lasts",
        "canal-risk-not-better", "canal-frail-pain-lasts", "canal-frail-not-better",
        "canal-frail-hidden-lasts",
    }
)  # fmt: skip
"""Emergencies of the canal, the drum or the hearing of an ear: it is cleared to be seen."""

ENT_SOON = SEES_IN | {
    "disease-keratin", "disease-attic-crust", "disease-scutum", "disease-attic-grade",
    "disease-granulation", "disease-polyp", "disease-hole-edge", "pocket-unseen-discharge",
    "mass-behind-drum", "canal-shut", "canal-severe-pain", "canal-blood", "canal-bleeds",
    "canal-treated-long", "object-failed", "object-stays", "object-child-hidden",
    "blood-found", "bled-by-itself",
    "blood-found-old-injury", "object-ill", "object-pain", "fluid-over-forty-stays",
    "tinnitus-pulsatile-drum", "fluid-over-forty", "fluid-over-forty-again", "fluid-origin-loss",
    "fluid-origin-told",
}  # fmt: skip
"""What ENT looks into the canal and at the drum for, within two weeks."""
ENT_BESIDE = frozenset(
    {
        "tensa-three-first", "tensa-four-refer", "tensa-stuck-refer", "base-unseen-refer",
        "tensa-new-gap-refer", "attic-new-gap-refer", "tensa-hearing-worse-refer",
        "attic-hearing-worse-refer", "tensa-discharge-refer", "attic-discharge-refer",
        "tensa-two-steps-worse", "attic-two-steps-worse", "tensa-worse-twice", "attic-worse-twice",
        "hole-hearing-down", "hole-open-long", "discharge-four-weeks", "pus-still-hides-drum",
        "fluid-adult-again", "fluid-teenager", "fluid-half-year", "fluid-both-long-loss",
        "only-ear-fluid-again", "only-ear-hole-again", "canal-inflamed-long",
        "fluid-after-radiotherapy", "hole-injured-open",
    }
)  # fmt: skip
"""What ENT looks at the same ear for besides, where something else has it seen within days."""
FLUID_AT_ENT = frozenset(
    {
        "fluid-over-forty", "fluid-over-forty-again", "fluid-over-forty-stays",
        "fluid-origin-loss", "fluid-origin-told", "fluid-after-radiotherapy",
    }
)  # fmt: skip
LOSS_AT_ENT = FLUID_AT_ENT | {
    "sudden-loss-now", "sudden-loss-quick-worsening", "sudden-loss-since-days", "sudden-loss-late",
    "concern-sudden", "barotrauma-hearing",
    "sudden-loss-slower", "worsening-loss", "worsening-loss-lately", "facial-weakness-with-loss",
    "facial-numbness-with-loss", "facial-numbness-with-difference",
}  # fmt: skip
CONCERN_TESTS = frozenset({"concern-adult", "concern-after-wax", "barotrauma-test"})
ONE_TONE = frozenset({"sudden-loss-one-tone"})
"""A sudden loss that ENT sees within two weeks is measured there in the course of it."""
OBJECTS_AT_ENT = frozenset({"object-ill", "object-pain", "object-stays", "object-child-hidden"})
CHILD_TESTS = FLUID_TESTS | {
    "loss-child", "fluid-child-loss", "fluid-child-loss-better-ear", "fluid-long-hearing",
    "fluid-long-untested", "fluid-told-long-untested", "grommet-blocked-hearing",
    "grommet-out-hearing", "screen-not-passed-child", "hearing-not-back",
    "concern-after-suction", "worse-after-suction",
}  # fmt: skip
CHILD_ASSESSED = frozenset(
    {
        "concern-child", "concern-child-still", "loss-child-refer", "loss-child-concern",
        "loss-child-severe", "loss-child-large", "loss-child-again", "first-hearing-aid-child",
        "screen-not-passed-twice-child",
    }
)  # fmt: skip
"""One service tests one child: children's audiology, within its twelve weeks, also where a test of
ours would have been earlier. It comes back if that assessment is not given."""
TESTS_AT_RISK = (UNKNOWN_TESTS | FLUID_TESTS) - {
    "aid-hearing-test", "dementia-or-learning-disability", "grommet-not-tested-here",
}  # fmt: skip
"""A child at risk with fluid: children's audiology tests both ears within six weeks."""
PAIN_AT_THE_GP = frozenset({"pain-long", "pain-long-forty", "night-pain-long", "severe-pain-long"})
PAEDIATRIC = "to paediatric_audiology"
ANOTHERS = (
    (LOOKS_GIVE_WAY - {"canal-shut-look"}, "to ent", ENT_SOON | ENT_BESIDE),
    (PAIN_LOOKS, "to gp", PAIN_AT_THE_GP),
    (frozenset({"fluid-adult-look", "trace-flat"}), "to ent", FLUID_AT_ENT),
    (CONCERN_TESTS | ONE_TONE, "to ent", LOSS_AT_ENT),
    (TESTS_AT_RISK, "to paediatric_audiology", frozenset({"fluid-at-risk-refer"})),
    (CONCERN_TESTS | {"fluctuating-test"}, "to audiology", frozenset({"tinnitus-one-sided"})),
    (BESIDE_A_BATTERY | {"wax-failed"}, "to ent", OBJECTS_AT_ENT | {"object-failed"}),
    (frozenset({"object-look"}), "to ent", OBJECTS_AT_ENT),
)
"""Looks and tests of our own that another service is asked for, of the same thing, no later."""
CONCERN_AT_AUDIOLOGY = frozenset(
    {
        "concern-adult-loss", "concern-known-loss", "concern-high-tones",
        "concern-known-high-tones", "concern-one-tone", "tinnitus-one-sided",
    }
)  # fmt: skip


def taken_over(key: Key, row: Row, now: Standing) -> bool:
    """Return whether something no milder takes the place of what a row stood for.

    Reviewed by hand, all of it common practice, no source: ENT at once for the GP or for a look
    of our own; a test that is asked for anyway for one of which only nobody knows.
    """
    (side, what), (latest, rank, rules) = key, row
    kept = set(now[key][2]) if key in now else set[str]()
    if what == "to gp":
        ent = now.get((side, "to ent"))
        at_once = ent is not None and (ent[1] == 0 or not AT_ONCE.isdisjoint(ent[2]))
        gone = GIVE_WAY_AT_THE_GP if at_once else frozenset[str]()
        sent = [r for (_, to), r in now.items() if to.startswith("to ") and to != "to gp"]
        if any(
            r[1] == 0 or ONE_ILLNESS & {*r[2]} or (_as_soon(r, row) and VERTIGO_AT_ENT & {*r[2]})
            for r in sent
        ):
            gone |= VERTIGO_AT_THE_GP
        if any(not FACE_AT_ENT.isdisjoint(r[2]) for r in sent):
            gone |= FACE_AT_THE_GP
        gone |= PULSE_AT_THE_GP if ent and PULSE_AT_ENT in ent[2] else set()
        return set(rules) - gone <= kept
    if any(one(key, row, now) for one in ONE_DOES):
        return True
    if what == "surveillance" and UNKNOWN_TESTS.issuperset(set(rules) - kept):
        return any(w == "hearing" and r[0] <= latest and r[1] <= rank for (_, w), r in now.items())
    today = any(s == side and w.startswith("to ") and r[1] == 0 for (s, w), r in now.items())
    looks = LOOKS_GIVE_WAY | HURT_TODAY
    return today and not looks.isdisjoint(rules) and set(rules) - looks <= kept


def _is_looked_at_with_what_is_in_front(key: Key, row: Row, now: Standing) -> bool:
    """Return whether the look at an object, or at wax, takes in that for the drum behind it."""
    looks = (("canal_skin", "object-look"), ("wax", "wax-found-not-cleared"))
    there = [(now[key[0], where], first) for where, first in looks if (key[0], where) in now]
    return key[1] == "view" and any(
        {first, *row[2]} <= {*look[2]} and look[0] <= row[0] and look[1] <= row[1]
        for look, first in there
    )


def _is_tested_with_the_other_ear(key: Key, row: Row, now: Standing) -> bool:
    """Return whether a test for fluid of the other ear, no later, does for that of this one."""
    kept = set(now[key][2]) if key in now else set[str]()
    other = now.get(("left" if key[0] == "right" else "right", key[1]))
    if key[1] != "hearing" or other is None or not FLUID_TESTS.issuperset({*row[2]} - kept):
        return False
    return not FLUID_TESTS.isdisjoint(other[2]) and _as_soon(other, row) and other[1] <= row[1]


def _is_a_try_at_what_is_seen_today(key: Key, row: Row, now: Standing) -> bool:
    """Return whether ENT or the emergency department sees into an ear today that we would try."""
    kept = set(now[key][2]) if key in now else set[str]()
    tries = TRIES_GIVE_WAY | ({"retry"} if key[1] == "wax" else set())
    tries |= LOOKS_GIVE_WAY | HURT_TODAY  # asked for together with a try, at an object for one
    side = key[0]
    return tries.issuperset({*row[2]} - kept) and any(
        s == side and w in ("to ent", "to emergency") and r[1] == 0 and not SEES_IN.isdisjoint(r[2])
        for (s, w), r in now.items()
    )


def _is_seen_elsewhere(key: Key, row: Row, now: Standing) -> bool:
    """Return whether another service is asked about it, no later and no less pressingly."""
    kept = set(now[key][2]) if key in now else set[str]()
    gone = {*row[2]} - kept
    for ours, to, theirs in ANOTHERS:
        for side in SIDES if ours is TESTS_AT_RISK else (key[0],):
            other = now.get((side, to))
            if other is None or theirs.isdisjoint(other[2]):
                continue
            if _as_soon(other, row) and other[1] <= row[1] and not ours.isdisjoint(gone):
                gone -= ours | {"retry"}
    return not gone


def _is_a_child_assessed_there(key: Key, row: Row, now: Standing) -> bool:
    """Return whether children's audiology, which tests both ears, is asked about the hearing.

    What children's audiology is asked for besides, no later, is not asked for here either.
    """
    kept = set(now[key][2]) if key in now else set[str]()
    gone = {*row[2]} - kept - {"retry"}
    there = [now[side, PAEDIATRIC] for side in SIDES if (side, PAEDIATRIC) in now]
    for one in there:
        if one[1] <= row[1] and not CHILD_ASSESSED.isdisjoint(one[2]):
            gone -= CHILD_TESTS
        if one[1] <= row[1] and _as_soon(one, row) and "fluid-at-risk-refer" in one[2]:
            gone -= TESTS_AT_RISK
    return bool(there) and not gone


def _is_a_concern_of_ent(key: Key, row: Row, now: Standing) -> bool:
    """Return whether ENT tests an ear, no later, that audiology would for a concern alone."""
    ent = now.get((key[0], "to ent"))
    if key[1] != "to audiology" or ent is None or not {*row[2]} <= CONCERN_AT_AUDIOLOGY:
        return False
    return _as_soon(ent, row) and ent[1] <= row[1]


def _as_soon(
    first: tuple[date, int, tuple[str, ...]], second: tuple[date, int, tuple[str, ...]]
) -> bool:
    return first[0] <= second[0]


def _is_one_look_of_disease(key: Key, row: Row, now: Standing) -> bool:
    """Return whether ENT is asked about disease, and one look of our own stands.

    It takes in a look by name, no later and no less pressingly, one that is late among them; or
    it joins another of that drum, and what it was joined with stands by itself; or ENT sees the
    ear no later than that look would have, or today for bone that granulates and nothing else.
    """
    if key[1] not in OF_THE_DRUM:
        return False
    ent = now.get((key[0], "to ent"))
    if ent is None or not any(rule.startswith(DISEASE) for rule in ent[2]):
        return False
    own = [r for (side, what), r in now.items() if side == key[0] and what in OF_THE_DRUM]
    if any({*row[2]} <= {*r[2]} and _as_soon(r, row) and r[1] <= row[1] for r in own):
        return True
    if ent[1] == 0 and {*row[2]} == {OWN_LOOK} and not BONE_GRANULATES.isdisjoint(ent[2]):
        return GRANULATION_ALONE.issuperset(r for r in ent[2] if r.startswith(DISEASE))
    by = row[0] + OWN_LOOK_LASTS
    apart = any(OWN_LOOK in r[2] and r[0] <= by and r[1] <= row[1] for r in own)
    if apart and key in now and {*row[2]} - {OWN_LOOK} <= {*now[key][2]}:
        return _as_soon(now[key], row)
    return bool(own) and _as_soon(ent, row) and ent[1] <= row[1]


def _is_one_look_at_a_running_ear(key: Key, row: Row, now: Standing) -> bool:
    """Return whether the look at an ear that runs is also that for the drum its pus hides."""
    look = now.get((key[0], "drum"))
    if key[1] != "view" or look is None:
        return False
    return {"pus-hides-drum", *row[2]} <= {*look[2]} and _as_soon(look, row) and look[1] <= row[1]


def _is_an_object_whose_drum_ent_sees(key: Key, row: Row, now: Standing) -> bool:
    """Return whether the try at an object stands, and ENT sees the drum that was behind it.

    Of one look for both the days are those of the try, a week; the drum itself has two.
    """
    look, ent = now.get(key), now.get((key[0], "to ent"))
    if key[1] != "canal_skin" or look is None or ent is None or "object-look" not in look[2]:
        return False
    gone = {*row[2]} - {*look[2]}
    within = ent[0] <= row[0] + timedelta(days=7) and not ENT_SOON.isdisjoint(ent[2])
    return gone <= VIEWS and _as_soon(look, row) and within and (ent[1] <= row[1])


ONE_DOES = (
    _is_an_object_whose_drum_ent_sees,
    _is_tested_with_the_other_ear,
    _is_looked_at_with_what_is_in_front,
    _is_a_try_at_what_is_seen_today,
    _is_one_look_of_disease,
    _is_one_look_at_a_running_ear,
    _is_seen_elsewhere,
    _is_a_child_assessed_there,
    _is_a_concern_of_ent,
)
"""One thing for two, each reviewed above."""
