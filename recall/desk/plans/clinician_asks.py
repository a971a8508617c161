"""What somebody who may decide asks for between visits: another look, or a referral.

A caller who is worse may have to be seen or sent on before anybody has looked again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from recall.care.case import URGENCIES, Category, To
from recall.care.ear import SIDES
from recall.desk.core.acting import Act, Next
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError

_LOOKS: tuple[str, ...] = tuple(
    word for word in get_args(Category) if word not in ("refer", "come_back_if")
)


@needs(Right.DECIDE)
def ask_referral(
    desk: Desk, ref: str, to: str, ears: Sequence[str], urgency: str, why: str
) -> Next:
    """Ask for a referral; it is chased from then on like any other.

    Raises:
        Refused: whoever acts may not decide.
        InputError: no such service, ear or urgency, or no reason.
    """
    if to not in get_args(To):
        raise InputError(f"{to!r} is no service.", hint=f"It may be: {', '.join(get_args(To))}.")
    words = f"Referral to {to.replace('_', ' ')} asked for."
    return _ask(desk, ref, ears, urgency, why, words, category="refer", to=to)


@needs(Right.DECIDE)
def ask_look(
    desk: Desk, ref: str, category: str, ears: Sequence[str], urgency: str | None, why: str
) -> Next:
    """Ask for another look, in the window that the protocol gives its category.

    Raises:
        Refused: whoever acts may not decide.
        InputError: no such category, ear or urgency, or no reason.
    """
    if category not in _LOOKS:
        raise InputError(f"{category!r} is no look.", hint=f"It may be: {', '.join(_LOOKS)}.")
    words = f"{category.replace('_', ' ').capitalize()} asked for."
    return _ask(desk, ref, ears, urgency, why, words, category=category)


def _ask(
    desk: Desk,
    ref: str,
    ears: Sequence[str],
    urgency: str | None,
    why: str,
    words: str,
    **what: Any,
) -> Next:
    if not ears or any(ear not in SIDES for ear in ears):
        raise InputError("Which ear is not clear.", hint="Name right, left, or both.")
    if urgency is not None and urgency not in URGENCIES:
        hint = f"It may be: {', '.join(URGENCIES)}."
        raise InputError(f"{urgency!r} is no urgency.", hint=hint)
    required(why, "A decision needs its reason.", hint="Say why.")
    with desk.store.write() as session:
        person = person_row(session, ref)
        act = Act(desk, session, person.id)
        asks = {"kind": "recheck", "action": "ask", "reason": "clinician_decision"}
        for ear in dict.fromkeys(ears):
            given = {"ear": ear, "urgency": urgency, "why": why.strip()}
            act.add("decision", person_id=person.id, **given, **asks, **what)
        return act.finish("asked", words, refold=True)
