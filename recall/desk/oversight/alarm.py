"""Sentences about something that must never be."""

from __future__ import annotations


class Alarm(str):
    """A sentence that is shown in the colour of alarm."""
