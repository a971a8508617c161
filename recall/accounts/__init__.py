"""What became of every ask: one state each on a day, counted so that the states sum to the asks."""
