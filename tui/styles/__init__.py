"""Colours and the style sheet."""
