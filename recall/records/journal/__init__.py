"""What happened and who is at it: the history chain, claims, runs of the jobs."""
