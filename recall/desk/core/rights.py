"""Who may do what: one table of roles and rights, which the desk enforces for every function.

What is decided about somebody's care is for those who examine ears; what ends a follow-up for
an administrative reason is for the manager too; nobody needs a right to help somebody on the
telephone but a name. Common practice, no source: a practice with other rules changes the table.
"""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What somebody is in the practice; one each."""

    RECEPTION = "reception"
    PRACTITIONER = "practitioner"
    CLINICAL_LEAD = "clinical_lead"
    MANAGER = "manager"
    JOBS = "jobs"
    NOBODY = "nobody"
    """Whoever looks without saying who they are; never a row of the staff table."""


class Right(StrEnum):
    """What the functions of the desk ask for."""

    LOOK = "look at lists, people and reports"
    REACH = "reach people, book and note what came of it"
    KEEP_PEOPLE = "record who people are and how to reach them"
    TAKE_IN_FILES = "take in files"
    TYPE_VISITS = "type, correct and void visits"
    FOLLOW_REFERRALS = "record what became known of referrals"
    SEND_POST = "write, print and post letters"
    END = "end a follow-up or referral for a reason of the practice"
    DECIDE = "confirm, change and end what is clinically decided"
    ADOPT = "adopt and sign the protocol"
    KEEP_STAFF = "add staff and let them leave"
    VOUCH = "give a code for a forgotten password, with a second person or as the manager"
    SEE_LOOKS = "see who looked at somebody's record"
    HAND_OVER = "hand over a copy of everything held on somebody"
    ERASE = "erase what is held on somebody, with a second one who may"
    HOLD_KEY = "encrypt the register and see its key"
    MOVE = "move the register to another database"
    MAINTAIN = "run checks, plans and backups"


_DESK = frozenset({Role.RECEPTION, Role.PRACTITIONER, Role.CLINICAL_LEAD, Role.MANAGER})
_CLINICAL = frozenset({Role.PRACTITIONER, Role.CLINICAL_LEAD})
RIGHTS: dict[Right, frozenset[Role]] = {
    Right.LOOK: frozenset(Role),
    Right.REACH: _DESK,
    Right.KEEP_PEOPLE: _DESK,
    Right.TAKE_IN_FILES: _DESK | {Role.JOBS},
    Right.TYPE_VISITS: _DESK - {Role.MANAGER},
    Right.FOLLOW_REFERRALS: _DESK,
    Right.SEND_POST: _DESK | {Role.JOBS},
    Right.END: _CLINICAL | {Role.MANAGER},
    Right.DECIDE: _CLINICAL,
    Right.ADOPT: frozenset({Role.CLINICAL_LEAD}),
    Right.KEEP_STAFF: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.VOUCH: _DESK,
    Right.SEE_LOOKS: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.HAND_OVER: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.ERASE: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.HOLD_KEY: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.MOVE: frozenset({Role.CLINICAL_LEAD, Role.MANAGER}),
    Right.MAINTAIN: _DESK | {Role.JOBS},
}
"""Each right, and the roles that have it."""
PEOPLE_ROLES = tuple(role.value for role in Role if role not in (Role.JOBS, Role.NOBODY))
"""What a person on the staff table may be."""
ROLE_WORDS: dict[Role, str] = {
    Role.RECEPTION: "reception",
    Role.PRACTITIONER: "practitioner",
    Role.CLINICAL_LEAD: "clinical lead",
    Role.MANAGER: "manager",
    Role.JOBS: "the jobs",
    Role.NOBODY: "nobody named",
}


def has_right(role: Role, right: Right) -> bool:
    """Return whether a role has a right.

    >>> has_right(Role.RECEPTION, Right.DECIDE), has_right(Role.PRACTITIONER, Right.DECIDE)
    (False, True)
    """
    return role in RIGHTS[right]
