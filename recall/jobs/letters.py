"""The week's letters: rows with their text first, then the pages and the list."""

from __future__ import annotations

from recall.desk.core.narrowing import site_by_site
from recall.desk.post.batches import prepare
from recall.desk.post.printing import print_batch, unprinted
from recall.desk.practice.job_runs import Counts, Run


def work(run: Run) -> Counts:
    """Write and print the week's letters; both can be done again and double nothing.

    Where there are several sites, each has a batch of its own.
    """
    made = [prepare(desk, run.for_day) for desk in site_by_site(run.desk)]
    counts: Counts = {"written": sum(one.written for one in made), "printed": 0, "held_back": 0}
    for batch_id in unprinted(run.desk, made[0].week_on):
        run.alive()
        printed = print_batch(run.desk, batch_id)
        counts["printed"] += printed.letters + printed.emails
        counts["held_back"] += len(printed.held)
    counts["nobody_to_write_to"] = sum(len(one.not_written) for one in made)
    counts["left_out"] = list(run.desk.store.left_out)
    counts["not_confirmed"] = sum(one.unconfirmed for one in made)
    counts["backlog_left"] = sum(one.backlog_left for one in made)
    return counts
