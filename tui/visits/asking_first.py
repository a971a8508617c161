"""What is asked before a plan is accepted: who examined, why it is milder, what is groundless."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import msgspec

from recall.schedule.plan import BECAUSE_WORDS
from recall.schedule.plan_lines import Judgement
from tui.dialogs.choose import Choose
from tui.dialogs.digits import Digits, Question
from tui.dialogs.form import Field, Form, Values
from tui.visits.ready import Ready

NEEDED = "needed"


def examiner_sheet(ready: Ready) -> Choose | None:
    """Return the question who examined, where somebody else began the visit."""
    able = ready.may_have_examined
    if not able:
        return None
    does = {ready.handle: "who closes the visit"}
    choices = [
        (each.handle, f"{each.name}, {does.get(each.handle, 'who began the visit')}")
        for each in able
    ]
    if able[0].handle != ready.handle:
        choices.append(("", "somebody else: not recorded"))
    return Choose(f"Examined by {able[0].name}?", choices)


def with_examiner(ready: Ready, handle: str) -> Ready:
    """Return a visit that can be closed with who examined; nobody where none was named."""
    visit = msgspec.structs.replace(ready.draft.visit, examiner=handle or None)
    return replace(ready, draft=replace(ready.draft, visit=visit), may_have_examined=())


def milder_sheet(ready: Ready) -> Form | None:
    """Return the sheet that names what a correction drops or lowers, and asks why."""
    lost = ready.draft.milder
    if not lost:
        return None

    def store(_desk: object, values: Values) -> Ready:
        return replace(ready, milder_why=values["why"])

    lines = [*(each.words() for each in lost), "It waits for a second person to see it."]
    field = Field("why", "Why it presses less", needed=True)
    return Form("This makes the plan milder", [field], store, lines=lines, does="Enter Go on")


def groundless_sheet(ready: Ready) -> Digits | None:
    """Return what is asked once about each referral whose reason is gone."""
    judged = {name for name, _ in ready.judged}
    asked = [line for line in ready.draft.groundless if line.name not in judged]
    if not asked:
        return None
    withdrawn = tuple((word, f"withdrawn: {why}") for word, why in BECAUSE_WORDS.items())
    answers = ((NEEDED, "still needed"), *withdrawn)
    return Digits(
        "Its reason is gone",
        [Question(f"{line.words()[:1].upper()}{line.words()[1:]}?", answers) for line in asked],
    )


def with_answers(ready: Ready, given: Sequence[str]) -> Ready:
    """Return what is ready with the answers about referrals whose reason is gone."""
    judged = {name for name, _ in ready.judged}
    names = [line.name for line in ready.draft.groundless if line.name not in judged]
    pairs = list(zip(names, given, strict=True))
    reasons = {name: b for name, word in pairs for b in BECAUSE_WORDS if b == word}
    gone = tuple((name, Judgement("strike", because)) for name, because in reasons.items())
    needed = tuple(name for name, word in pairs if word == NEEDED)
    return replace(ready, judged=(*ready.judged, *gone), still_needed=needed)
