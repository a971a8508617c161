"""The worklists: what is due for whom on a day, and the call card of one person."""
