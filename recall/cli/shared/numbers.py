"""Whole numbers on the command line: none larger than a register can hold."""

from __future__ import annotations

from typing import Any

import click

LARGEST = 2**63 - 1
"""The largest whole number of a database."""


class Number(click.types.IntParamType):
    """A whole number, of a row or of things counted."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number; one that no register can hold is refused in a sentence."""
        return _held(self, super().convert(value, param, ctx), param, ctx)


class AtLeast(click.IntRange):
    """A whole number from a smallest one on."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number; one that is too small or that no register can hold is refused."""
        return _held(self, super().convert(value, param, ctx), param, ctx)


def _held(
    kind: click.types.IntParamType,
    number: int,
    param: click.Parameter | None,
    ctx: click.Context | None,
) -> int:
    if abs(number) > LARGEST:
        kind.fail(f"{number} is larger than any number here.", param, ctx)
    return number


NUMBER = Number()
