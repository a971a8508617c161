"""The desk in a terminal."""
