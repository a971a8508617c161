"""Follow-up and recall for an ear-care practice."""
