"""What to say in a call in the place of a letter, for those who need the spoken form."""

from __future__ import annotations

import msgspec

from recall.desk.core.guarding import needs
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.batches import adult_names
from recall.desk.post.choosing import Chosen, with_others
from recall.desk.post.writing import Recipients, come_by, drafts
from recall.desk.worklists.day_list import statuses_of
from recall.errors import NotFound, Refused
from recall.letters.compose import script
from recall.letters.data import LetterData
from recall.letters.wording import Wording
from recall.loop.addressee import NOWHERE, Addressee, Role, addressees
from recall.protocol.contact_steps import LETTER_STEPS, RUN_LETTERS


@needs(Right.LOOK)
def script_for(desk: Desk, follow_up_id: int, contact_point_id: int | None = None) -> str:
    """Return what to say in a call in the place of a follow-up's letter.

    Args:
        desk: who rings, on which day.
        follow_up_id: what the call is about.
        contact_point_id: the number that is rung; the one to try first where left out.

    Raises:
        NotFound: no such open follow-up.
        Refused: nobody may be rung about it, with the reason.
    """
    with desk.store.read() as session:
        found = statuses_of(desk, session, [follow_up_id])
        if not found:
            raise NotFound(f"There is no open follow-up {follow_up_id}.", hint="See recall queue.")
        (one,) = found
        people = person_headers(session, [one.person_id], desk.today, desk.protocol.contact)
        adults = adult_names(session, [one.person_id])
        step = one.status.step
        kind = step.kind if step is not None and step.kind in LETTER_STEPS else RUN_LETTERS[0]
        run = step.round if step is not None else 1
        (about,) = with_others(desk, session, [Chosen(one, follow_up_id, kind, run)])
    who = people[one.person_id]
    to = addressees(who.reachable.person, desk.today, desk.protocol.contact)
    spoken_to = to.to or _without_address(who)
    if not spoken_to:
        raise Refused(f"Nobody is rung about follow-up {follow_up_id}: {to.none_because}.")
    recipients = Recipients(who, spoken_to, adults)
    draft = next(drafts(about, recipients, desk))
    by = come_by(about, desk.today)
    data = msgspec.structs.replace(draft.data, call_by=by, soon=by is None)
    data = _for_whoever_answers(data, who, _owner(who, contact_point_id))
    return script(data, Wording(desk.config.files.wording)).text


def _without_address(who: PersonHeader) -> tuple[Addressee, ...]:
    """Return whoever a call is to where no letter can go; nobody where none may be rung."""
    if not who.numbers:
        return ()
    role: Role = "attorney" if who.has_speaker else "self"
    return (Addressee(role=role, home=NOWHERE, adults=who.speaks),)


def _owner(who: PersonHeader, contact_point_id: int | None) -> str:
    """Return who of those that answer for the person owns the number; empty where nobody does."""
    rung = [n for n in who.numbers if contact_point_id in (None, n.contact_point_id)][:1]
    return next((n.owner for n in rung if n.adult_id in who.speaks), "")


def _for_whoever_answers(data: LetterData, who: PersonHeader, owner: str) -> LetterData:
    """Return what is said to whom the call card asks for, where that is not the person.

    A letter about an adult goes to whoever decides for them and is written to the person; a call
    asks for the one who decides, and is about the person. Of several it asks for the one whose
    number is rung.
    """
    if not who.has_speaker:
        return data
    kind = "invitation_child" if data.kind == "invitation_adult" else data.kind
    person = data.person or who.known_as or who.given_names or who.name
    return msgspec.structs.replace(data, kind=kind, salutation=owner or who.ask_for, person=person)
