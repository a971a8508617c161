"""What a shortcut wrote of an ear gives way to what is typed afterwards.

A shortcut says that an ear is clear as far as it was seen. Where one finding is then typed
otherwise, nothing that rested on it may stay called normal; and nobody has to put right by hand
what follows from it. Only what the shortcut wrote gives way, never what somebody typed.
"""

from __future__ import annotations

from typing import Any

import msgspec

from recall.care.catalogue import CATALOGUE
from recall.care.contradictions import contradictions
from recall.care.ear import Ear

Written = frozenset[str]
"""Fields of an ear that a shortcut wrote, and nobody typed since."""
_NO_ATTIC_IN_A_CAVITY = ("attic_seen", "attic_grade", "scutum_erosion")


def given_way(ear: Ear, written: Written) -> tuple[Ear, Written]:
    """Return an ear in which what was written by a shortcut fits what was typed.

    Args:
        ear: everything recorded of it.
        written: what of it a shortcut wrote.
    """
    for step in (_wax_stays, _wax_is_out, _nothing_found, _hidden, _out_of_view, _contradicted):
        changed = {n: v for n, v in step(ear, written).items() if n in written}
        ear = msgspec.structs.replace(ear, **changed)
        written -= {name for name, value in changed.items() if value is None}
    return ear, written


def _wax_stays(ear: Ear, written: Written) -> dict[str, Any]:
    """Wax that did not come out lies there as it was found, and nobody hears without it."""
    if "wax_left" not in written and ear.wax_left == "occluding":
        return {"clearance": "failed", "hearing_after": None}
    if "clearance" in written or ear.clearance not in ("failed", "not_attempted"):
        return {}
    return {"hearing_after": None, "wax_left": ear.wax_found}


def _wax_is_out(ear: Ear, written: Written) -> dict[str, Any]:
    if "clearance" in written or ear.clearance != "cleared" or ear.wax_left != "occluding":
        return {}
    return {"wax_left": "none", "drum_seen": None}


def _nothing_found(ear: Ear, written: Written) -> dict[str, Any]:
    if "wax_found" in written or ear.wax_found != "none":
        return {}
    return {"clearance": None, "hearing_after": None}


def _hidden(ear: Ear, _written: Written) -> dict[str, Any]:
    return {"drum_seen": "none"} if ear.wax_left == "occluding" else {}


def _out_of_view(ear: Ear, written: Written) -> dict[str, Any]:
    """What was not in view is not called normal; an open cavity has no attic."""
    if ear.drum_seen != "full":
        return dict.fromkeys([n for n in written if _is_in("drum", n)] + ["attic_seen"])
    if ear.cavity is True:
        return dict.fromkeys(_NO_ATTIC_IN_A_CAVITY)
    if ear.attic_seen is not True and "attic_seen" not in written:
        return dict.fromkeys([n for n in written if _is_in("attic", n)])
    return {}


def _is_in(view: str, name: str) -> bool:
    """Return whether a finding is in view there alone; without the drum the attic is not, too."""
    finding = CATALOGUE.get(name)
    views = (view, "attic") if view == "drum" else (view,)
    return finding is not None and finding.clear_in in views


def _contradicted(ear: Ear, written: Written) -> dict[str, Any]:
    broken = {name for c in contradictions(ear) for name in (c.row.field, c.row.other)}
    return dict.fromkeys(broken & written)
