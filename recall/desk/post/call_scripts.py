"""What to say in a call in the place of a letter, for those who need the spoken form."""

from __future__ import annotations

import msgspec

from recall.desk.core.guarding import needs
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.batches import adult_names
from recall.desk.post.choosing import Chosen
from recall.desk.post.writing import Recipients, drafts
from recall.desk.worklists.day_list import statuses_of
from recall.errors import NotFound, Refused
from recall.letters.compose import script
from recall.letters.data import LetterData
from recall.letters.wording import Wording
from recall.loop.addressee import addressees
from recall.protocol.contact_steps import LETTER_STEPS, RUN_LETTERS


@needs(Right.LOOK)
def script_for(desk: Desk, follow_up_id: int) -> str:
    """Return what to say in a call in the place of a follow-up's letter.

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
    about = Chosen(one, follow_up_id, kind, step.round if step is not None else 1)
    who = people[one.person_id]
    to = addressees(who.reachable.person, desk.today, desk.protocol.contact)
    if not to.to:
        raise Refused(f"Nobody is rung about follow-up {follow_up_id}: {to.none_because}.")
    recipients = Recipients(who, to.to, adults)
    draft = next(drafts(about, recipients, desk))
    data = _for_whoever_answers(draft.data, who)
    return script(data, Wording(desk.config.files.wording)).text


def _for_whoever_answers(data: LetterData, who: PersonHeader) -> LetterData:
    """Return what is said to whom the call card asks for, where that is not the person.

    A letter about an adult goes to whoever decides for them and is written to the person; a call
    asks for the one who decides, and is about the person.
    """
    if data.person or not who.has_speaker:
        return data
    kind = "invitation_child" if data.kind == "invitation_adult" else data.kind
    person = who.known_as or who.given_names or who.name
    return msgspec.structs.replace(data, kind=kind, salutation=who.ask_for, person=person)
