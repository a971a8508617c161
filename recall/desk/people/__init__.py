"""One person: the card, the timeline, what is changed, a death."""
