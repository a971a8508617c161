"""The week's letters: rows with their text first, then the pages and the list."""

from __future__ import annotations

from recall.desk.post.batches import prepare
from recall.desk.post.printing import print_batch, unprinted
from recall.desk.practice.job_runs import Counts, Run


def work(run: Run) -> Counts:
    """Write and print the week's letters; both can be done again and double nothing."""
    prepared = prepare(run.desk, run.for_day)
    counts: Counts = {"written": prepared.written, "printed": 0, "held_back": 0}
    for batch_id in unprinted(run.desk, prepared.week_on):
        run.alive()
        printed = print_batch(run.desk, batch_id)
        counts["printed"] += printed.letters + printed.emails
        counts["held_back"] += len(printed.held)
    counts["nobody_to_write_to"] = len(prepared.not_written)
    counts["not_confirmed"] = prepared.unconfirmed
    counts["backlog_left"] = prepared.backlog_left
    return counts
