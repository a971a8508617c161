"""How wax comes back in this practice, worked out over the register on a day."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta

from msgspec.structs import replace
from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from recall.cycle.population import Fit, Population, encode, fit
from recall.cycle.spells import Spell, looks, past
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import all_cases, stands
from recall.records.journal import history
from recall.records.tables.statements import table_of

Progress = Callable[[int, int], None]
Ending = Callable[[Session, Fit], None]


@needs(Right.MAINTAIN)
def refit(
    desk: Desk, on: date, progress: Progress | None = None, ending: Ending | None = None
) -> Fit:
    """Work the population out again and keep it; `ending` writes in the same transaction."""
    found = fit_population(desk, on, progress)
    with desk.store.write() as session:
        keep_population(desk, session, found)
        if ending is not None:
            ending(session, found)
    return found


@needs(Right.LOOK)
def fit_population(desk: Desk, on: date, progress: Progress | None = None) -> Fit:
    """Return the population over everybody's visits up to a day, or why there is none yet."""
    return fit(_spells(desk, on, progress), on)


def keep_population(desk: Desk, session: Session, found: Fit) -> bool:
    """Keep a fitted population with its history; return whether it is new.

    Plans made before it stay what they are: each visit is planned with the last one before it.
    """
    if found.population is None:
        return False
    population = replace(found.population, fitted_on=_first_day(desk, session, found.population))
    on = population.fitted_on
    c = tables.Population
    known = select(c.id).where(c.on == on, c.void_at.is_(None))
    if session.scalar(known) is not None:
        return False
    content = encode(population).decode()
    values = {"on": on, "content": content, "recorded_at": desk.now, "by_id": desk.by.id}
    making = insert(table_of(tables.Population)).values(**values).returning(c.id)
    made = session.scalars(making).one()
    history.append(session, desk.by.id, desk.now, "fitted", "population", made, now={"on": on})
    return True


def _first_day(desk: Desk, session: Session, population: Population) -> date:
    """Return from when on visits are planned with a fit: one that comes late is dated tomorrow.

    Otherwise visits that were planned before it would ask otherwise than their rows say.
    """
    v = tables.Visit
    last = session.scalar(select(func.max(v.on)).where(stands(v)))
    if last is None or last < population.fitted_on:
        return population.fitted_on
    return max(last, desk.today) + timedelta(days=1)


def _spells(desk: Desk, on: date, progress: Progress | None) -> Iterator[tuple[Spell, ...]]:
    """Give each person's gaps, the register read page by page."""
    with desk.store.read() as session:
        for done, (_person_id, case) in enumerate(all_cases(session), 1):
            seen = [visit for visit in case.visits if visit.on <= on]
            found = past(looks(seen, "right"), looks(seen, "left")).spells
            if found:
                yield found
            if progress is not None and done % 1000 == 0:
                progress(done, done)
