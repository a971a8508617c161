"""Wording, composing, page layout, batch PDF."""
