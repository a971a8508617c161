"""Commands that set the practice up and keep it running."""
