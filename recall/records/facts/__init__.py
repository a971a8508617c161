"""Reading facts: a person's history, events of follow-ups, questions that lists ask."""
