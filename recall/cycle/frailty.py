"""How much sooner or later than most a person's wax comes back.

Each person has a rate `z`, shared by both ears, drawn from a gamma distribution
with mean 1 and variance `frailty`. Given `z`, a gap lasts longer than `t` days with
probability exp(-z H(t)), H(t) = (t / scale) ** shape. Two ways to average over `z`:
the gamma's Laplace transform in closed form, and a fixed grid in log z, on which the
trapezoid rule converges exponentially fast (the integrand is smooth and fades at
both ends).
"""

from __future__ import annotations

from math import exp, lgamma, log, log1p, sqrt

NONE = 1e-9
"""A frailty below this is none: everybody has the same rate."""
_STEP = 0.9
"""Distance of the grid's points, in spreads of log z after half a dozen returns."""
_SHIFT = 12.0
"""The grid is wide enough for so many returns, or so much hazard lived through, of one person."""


def grid(
    frailty: float, depth: float = 14.0, returns: int = 0
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return rates and their probabilities that stand for the gamma distribution.

    The grid ends where the density of log z has fallen to exp(-depth) of its peak; what
    lies below that is put on the lowest rate, and all of it is next to "never". For
    people with so many `returns` at least, who are none of the never, it begins higher up.
    """
    if frailty < NONE:
        return (1.0,), (1.0,)
    alpha = 1.0 / frailty
    step = _STEP / sqrt(alpha + 6.0)
    shift = log1p(_SHIFT / alpha)
    first = max(_edge(alpha + returns, -1.0, depth) - shift, -12.0)
    last = _edge(alpha + _SHIFT, 1.0, depth) + shift
    count = int((last - first) / step) + 2
    logs = [first + step * i for i in range(count)]
    norm = alpha * log(alpha) - lgamma(alpha) + log(step)
    weights = [exp(norm + alpha * (x - exp(x))) for x in logs]
    weights[0] += max(0.0, 1.0 - sum(weights))
    return tuple(exp(x) for x in logs), tuple(weights)


def _edge(alpha: float, direction: float, depth: float) -> float:
    """Return how far below or above its peak the density of log z has fallen by `depth`."""
    near, far = 0.0, direction
    while alpha * (far - exp(far) + 1.0) > -depth:
        far *= 2.0
    for _ in range(40):
        middle = (near + far) / 2.0
        if alpha * (middle - exp(middle) + 1.0) > -depth:
            near = middle
        else:
            far = middle
    return far
