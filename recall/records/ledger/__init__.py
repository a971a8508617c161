"""The stored ledger: fitting what the fold says to the rows that are there."""
