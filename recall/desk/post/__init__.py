"""The week's letters: chosen, written, printed, posted, returned."""
