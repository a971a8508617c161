"""Errors, by who must act.

RecallError
├── ConfigError     whoever set the practice up: the configuration file
├── ProtocolError   the clinical lead: a rule or the protocol file
├── InputError      whoever typed or exported it: a file, a field, a command
├── NotFound        whoever asked: no such person, visit, staff member
├── Conflict        whoever was second: somebody else changed it meanwhile
├── Refused         whoever asked: understood, and not allowed, with the reason
├── StorageError    whoever runs the machine: locked, read-only, older or newer database
└── LetterError     whoever prints: a template, a page, a font

A message says what happened and to which thing (ids, never names of people);
`hint` says what to do next.
"""

from __future__ import annotations


class RecallError(Exception):
    """Something that a person can put right, in one sentence."""

    exit_code = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class ConfigError(RecallError):
    """The configuration file cannot be used as it is."""

    exit_code = 2


class ProtocolError(RecallError):
    """A rule or the protocol file cannot be used as it is."""

    exit_code = 2


class InputError(RecallError):
    """What was given cannot be used as it is."""

    exit_code = 2


class NotFound(InputError):
    """No such thing in the register."""


class Refused(RecallError):
    """Understood, and not allowed."""

    exit_code = 5


class StorageError(RecallError):
    """The database cannot be read or written."""

    exit_code = 3


class Conflict(RecallError):
    """Somebody else changed the same thing meanwhile."""

    exit_code = 4

    def __init__(self, message: str, *, hint: str = "", version: int | None = None) -> None:
        """Take the version at which it is now, for whoever saw what changed and goes on."""
        super().__init__(message, hint=hint)
        self.version = version


class LetterError(RecallError):
    """A letter cannot be made: its template, or what is in it, must be put right."""

    exit_code = 2
