"""The desk's screens."""
