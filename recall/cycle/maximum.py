"""The highest point of a smooth function of one to three numbers.

Newton's method with differences for the derivatives and damping for safety: a step
is taken only if it climbs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt

import msgspec

Function = Callable[[Sequence[float]], float]
Matrix = list[list[float]]


class Peak(msgspec.Struct, frozen=True):
    """Where a function is highest, and how sharply it falls away from there."""

    at: tuple[float, ...]
    value: float
    spread: tuple[float, ...] | None
    """One standard error in each direction; `None` where it does not fall away."""


def maximum(
    function: Function,
    start: Sequence[float],
    *,
    enough: float = 1e-5,
    step: float = 1e-3,
    rounds: int = 60,
) -> Peak:
    """Return the peak reached by climbing from `start`, until a step gains less than `enough`.

    Near the peak each step squares the distance left, so the last one lands on it.
    """
    at, value = list(start), function(start)
    slope, fall = _derivatives(function, at, value, step)
    damping = 0.0
    for _ in range(rounds):
        move = _solve(_damped(fall, damping), slope)
        if move is None:
            damping = max(damping * 10.0, 1e-4)
            continue
        longest = max(abs(m) for m in move)
        move = [m / max(1.0, longest) for m in move]  # never by more than one e-fold at once
        there = [a + m for a, m in zip(at, move, strict=True)]
        height = function(there)
        if not height > value:
            if longest < 1e-6 or damping > 1e10:
                break
            damping = max(damping * 10.0, 1e-4)
            continue
        gain, at, value = height - value, there, height
        if gain < enough:
            break
        damping /= 10.0
        slope, fall = _derivatives(function, at, value, step)
    return Peak(tuple(at), value, _standard_errors(fall))


def _derivatives(
    function: Function, at: list[float], value: float, step: float
) -> tuple[list[float], Matrix]:
    """Return the gradient and the negative second derivatives, by central differences."""
    size = len(at)

    def moved(*axes: tuple[int, float]) -> float:
        there = list(at)
        for axis, by in axes:
            there[axis] += by
        return function(there)

    up = [moved((i, step)) for i in range(size)]
    down = [moved((i, -step)) for i in range(size)]
    slope = [(up[i] - down[i]) / (2.0 * step) for i in range(size)]
    fall = [[0.0] * size for _ in range(size)]
    for i in range(size):
        fall[i][i] = (2.0 * value - up[i] - down[i]) / step**2
        for j in range(i):
            both = moved((i, step), (j, step))
            fall[i][j] = fall[j][i] = (up[i] + up[j] - both - value) / step**2
    return slope, fall


def _damped(fall: Matrix, damping: float) -> Matrix:
    return [
        [v + (damping * (abs(v) + 1.0) if i == j else 0.0) for j, v in enumerate(row)]
        for i, row in enumerate(fall)
    ]


def _root(matrix: Matrix) -> Matrix | None:
    """Return the lower triangle whose square is `matrix`, or `None` if it is not positive."""
    size = len(matrix)
    root = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            rest = matrix[i][j] - sum(root[i][k] * root[j][k] for k in range(j))
            if i == j:
                if not rest > 1e-12:
                    return None
                root[i][i] = sqrt(rest)
            else:
                root[i][j] = rest / root[j][j]
    return root


def _solve(matrix: Matrix, right: Sequence[float]) -> list[float] | None:
    root = _root(matrix)
    if root is None:
        return None
    size = len(right)
    half = [0.0] * size
    for i in range(size):
        half[i] = (right[i] - sum(root[i][k] * half[k] for k in range(i))) / root[i][i]
    answer = [0.0] * size
    for i in reversed(range(size)):
        later = sum(root[k][i] * answer[k] for k in range(i + 1, size))
        answer[i] = (half[i] - later) / root[i][i]
    return answer


def _standard_errors(fall: Matrix) -> tuple[float, ...] | None:
    errors = []
    for i in range(len(fall)):
        column = _solve(fall, [1.0 if i == j else 0.0 for j in range(len(fall))])
        if column is None:
            return None
        errors.append(sqrt(max(0.0, column[i])))
    return tuple(errors)
