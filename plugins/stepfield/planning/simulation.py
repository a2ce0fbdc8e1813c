"""How far the time of a case spreads, by drawing every duration thousands of times; the one module that knows NumPy.

What is drawn follows the beta distribution that the three-point formulas come from: between least and most, with the
formulas' mean (D. G. Malcolm, J. H. Roseboom, C. E. Clark and W. Fazar, "Application of a technique for research and
development program evaluation", Operations Research 7, 1959). So what a drawn total has over the formulas' mean comes
of paths beside the critical one, and of nothing else. All runs are worked out at once, step by step. NumPy comes with
the extra ``planner`` and may be absent: a protocol of 200 steps drawn 10,000 times takes it a tenth of a second or
two, and plain Python thirty to fifty times as long.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..language.model import Duration, Protocol
from .plan import Between, Plan
from .standing import Standing

RUNS = 10_000
SEED = 1
SHARES = (10, 50, 90)


class NoNumPyError(Exception):
    """The library is not installed."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Something drawn, in seconds: mean, deviation, and the times that so many per cent of the runs stay below."""

    mean: float
    deviation: float
    below: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What came of drawing every duration ``runs`` times; everybody starts as soon as possible.

    ``kept`` tells for each limit in how many runs it was kept, ``standing`` how long each pack or field stood before
    it was used.
    """

    runs: int
    total: Spread
    kept: Mapping[Between, int]
    standing: Mapping[Standing, Spread]


def drawn(protocol: Protocol, plan: Plan, standing: Sequence[Standing], *, runs: int = RUNS, seed: int = SEED) -> Drawn:
    """Draws one scenario. Raises NoNumPyError where the library lacks.

    The same seed draws the same with the same NumPy. Each step is drawn by its own name, so a change of one step, or
    of who does what, leaves the other draws as they are, and the difference it makes is no accident of the drawing.
    """
    try:
        import numpy
    except ImportError as error:
        raise NoNumPyError from error

    nothing, steps = numpy.zeros(runs), protocol.steps
    starts: list[Any] = [nothing] * len(plan.gaps)
    ends: list[Any] = [nothing] * len(plan.gaps)
    for number in plan.sequence:
        start, step = nothing, steps[number]
        for earlier, gap in plan.gaps[number]:
            start = numpy.maximum(start, ends[earlier] + gap if gap else ends[earlier])
        starts[number] = ends[number] = start
        if step.takes is not None and plan.done[number]:
            chance = numpy.random.default_rng([seed, zlib.crc32(step.id.value.encode())])
            ends[number] = start + _lasting(chance, step.takes, runs)
    total = numpy.maximum.reduce([*ends, nothing])
    return Drawn(
        runs=runs,
        total=_spread(numpy, total),
        kept={
            limit: int((ends[limit.step] - ends[limit.of] <= limit.seconds + 1e-6).sum())  # sums are not exact
            for limit in plan.limits
        },
        standing={
            one: _spread(
                numpy,
                numpy.maximum(0.0, numpy.minimum.reduce([starts[use] for use in one.uses]) - ends[one.since]),
            )
            for one in standing
        },
    )


def _lasting(chance: Any, takes: Duration, runs: int) -> Any:
    """Seconds drawn from the beta distribution of the three times."""
    width = takes.most - takes.least
    if width <= 0:
        return takes.likely
    before = 1 + 4 * (takes.likely - takes.least) / width
    behind = 1 + 4 * (takes.most - takes.likely) / width
    return takes.least + width * chance.beta(before, behind, runs)


def _spread(numpy: Any, seconds: Any) -> Spread:
    below = numpy.percentile(seconds, SHARES)
    return Spread(
        mean=float(seconds.mean()),
        deviation=float(seconds.std(ddof=1)) if len(seconds) > 1 else 0.0,
        below={share: float(one) for share, one in zip(SHARES, below, strict=True)},
    )
