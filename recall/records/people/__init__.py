"""Finding people and the addresses that a letter may go to."""
