"""The week's letters: rows with their text first, then the PDF and the list."""

from __future__ import annotations

from recall.desk.post import make_pdf, prepare
from recall.jobs.work import Counts, Run


def work(run: Run) -> Counts:
    """Prepare the week's batch and print it; both can be done again and double nothing."""
    batch = prepare(run.desk, run.for_day)
    run.alive()
    made = make_pdf(run.desk, batch.id)
    return {"batch": batch.number, "letters": made.letters, "held": made.held}
