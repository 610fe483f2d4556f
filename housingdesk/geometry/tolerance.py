"""The tolerance stack of one fit: the chance that the part goes in, and that it does not rattle.

Across one direction the part of width w sits in a pocket of width w + 2 c, c the clearance a side.  Prints
scatter: the *gap* G, the pocket less the part, is normal with

    mean mu = 2 c + sum of size biases        variance s^2 = sum of size variances,

and the *offset* e, how far the pocket lies off where another feature of the same part holds the part, is
normal with the mean of the position biases and variance p^2 = sum of position variances (root sum of
squares).  A limit of +-T is read as T = k standard deviations, k = 3 by default (the usual reading of a
process limit; common practice, no source).  The gaps left and right are G/2 + e and G/2 - e, so

    goes in     P(|e| < G/2)         both gaps positive
    is held     P(G <= play)         total free movement not above the play chosen

Both gaps are normal with standard deviation r = sqrt(s^2/4 + p^2).  Without position bias the first is the
bivariate normal integral with equal limits h = mu/(2 r), which Owen's T function gives in closed form:
Phi2(h, h; rho) = Phi(h) - 2 T(h, sqrt((1 - rho)/(1 + rho))) and here sqrt((1 - rho)/(1 + rho)) = 2 p / s
(D. B. Owen, Tables for computing bivariate normal probabilities, Ann. Math. Stat. 27, 1956).  With bias or
for both events together one integral over the gap is left:

    P = int_0^play phi(g; mu, s) (Phi((g/2 - b)/p) - Phi((-g/2 - b)/p)) dg.

Pure numbers, no printer: whoever calls brings the spread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri, owens_t

On = Literal["gap", "position"]
_FAR = 12.0  # standard deviations beyond which a normal holds nothing that a double can show
MAX_CLEARANCE_MM = 100.0


@dataclass(frozen=True, slots=True)
class Spread:
    """What one source adds to the stack.

    Attributes
    ----------
    name : for the eye.
    limit_mm : the source scatters within +- this, at ``sigmas`` standard deviations.
    bias_mm : its mean; for the gap, positive makes the gap wider (a hole that prints 0.2 small in
        diameter has -0.2, a part 0.1 over its drawing has -0.1).
    on : the gap over both sides, or the position of the pocket.
    """

    name: str
    limit_mm: float
    bias_mm: float = 0.0
    on: On = "gap"
    sigmas: float = 3.0

    def __post_init__(self) -> None:
        if not (self.limit_mm >= 0 and self.sigmas > 0 and math.isfinite(self.bias_mm + self.limit_mm)):
            raise ValueError(f"{self.name}: a spread needs a limit of zero or more and a finite bias")

    @property
    def std_mm(self) -> float:
        """Standard deviation."""
        return self.limit_mm / self.sigmas


@dataclass(frozen=True, slots=True)
class Stack:
    """The sum of all sources.

    Attributes
    ----------
    mean_gap_mm, gap_std_mm : of the total gap over both sides.
    mean_offset_mm, offset_std_mm : of the pocket's position.
    worst_side_mm : least gap of one side when every source stands at its limit against the fit.
    shares : for each source its share of the variance of one side's gap; they add up to 1, or are all 0.
    """

    mean_gap_mm: float
    gap_std_mm: float
    mean_offset_mm: float
    offset_std_mm: float
    worst_side_mm: float
    shares: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Chance:
    """Chances of one fit.

    Attributes
    ----------
    goes_in : both gaps are positive.
    held : the total free movement does not exceed the play chosen (a part that does not go in counts).
    both : goes in and is held.
    error : one standard error of the greatest of the three, 0 by formula.
    """

    goes_in: float
    held: float
    both: float
    error: float = 0.0


def stack(clearance_mm: float, spreads: Sequence[Spread]) -> Stack:
    """Add up the sources: means plainly, scatter as root sum of squares, limits in the worst case plainly.

    Parameters
    ----------
    clearance_mm : nominal clearance a side; negative is interference.
    """
    gap = [s for s in spreads if s.on == "gap"]
    place = [s for s in spreads if s.on == "position"]
    mean = 2 * clearance_mm + sum(s.bias_mm for s in gap)
    offset = sum(s.bias_mm for s in place)
    variances = [(s.name, (s.std_mm / (2 if s.on == "gap" else 1)) ** 2) for s in spreads]
    total = sum(v for _, v in variances)
    return Stack(
        mean_gap_mm=mean,
        gap_std_mm=math.sqrt(sum(s.std_mm**2 for s in gap)),
        mean_offset_mm=offset,
        offset_std_mm=math.sqrt(sum(s.std_mm**2 for s in place)),
        worst_side_mm=(mean - sum(s.limit_mm for s in gap)) / 2
        - abs(offset)
        - sum(s.limit_mm for s in place),
        shares=tuple((name, v / total if total else 0.0) for name, v in variances),
    )


def chance(clearance_mm: float, spreads: Sequence[Spread], play_mm: float) -> Chance:
    """Return the chances by formula.

    Parameters
    ----------
    clearance_mm : nominal clearance a side.
    play_mm : total free movement from wall to wall that is still no rattle.

    Notes
    -----
    ``goes_in`` without position bias and ``held`` are exact to rounding, the integral to 1e-9.
    """
    s = stack(clearance_mm, spreads)
    return Chance(_goes_in(s), _below(play_mm, s.mean_gap_mm, s.gap_std_mm), _between(s, play_mm))


def simulate(
    clearance_mm: float, spreads: Sequence[Spread], play_mm: float, samples: int = 200_000, seed: int = 1
) -> Chance:
    """Return the chances by drawing every source on its own (Monte Carlo), the same for the same seed.

    The standard error is sqrt(q (1 - q) / samples) for a chance q, and at least 1 / samples.
    """
    rng = np.random.default_rng(seed)
    gap = np.full(samples, 2.0 * clearance_mm)
    offset = np.zeros(samples)
    for s in spreads:
        (gap if s.on == "gap" else offset)[:] += rng.normal(s.bias_mm, s.std_mm, samples)
    inside = (gap / 2 + offset > 0) & (gap / 2 - offset > 0)
    held = gap <= play_mm
    goes_in, still, both = (float(np.mean(hit)) for hit in (inside, held, inside & held))
    error = max(math.sqrt(q * (1 - q) / samples) for q in (goes_in, still, both))
    return Chance(goes_in, still, both, max(error, 1 / samples))


def clearance_for(spreads: Sequence[Spread], goes_in: float = 0.99) -> float:
    """Return the least clearance a side, mm, with which the part goes in with the chance asked.

    Without a spread of position it is (z s - bias) / 2 with z the normal quantile; else it is found by
    Brent's method on the formula, to 1e-9 mm.  It may be negative where the bias opens the gap.

    Raises
    ------
    ValueError
        For a chance that is not between 0 and 1, or a spread that no clearance up to 100 mm covers.
    """
    if not 0 < goes_in < 1:
        raise ValueError("the chance must lie between 0 and 1")
    s = stack(0.0, spreads)
    if s.offset_std_mm == 0 and s.mean_offset_mm == 0:
        return float(ndtri(goes_in)) * s.gap_std_mm / 2 - s.mean_gap_mm / 2

    def short(clearance_mm: float) -> float:
        return _goes_in(stack(clearance_mm, spreads)) - goes_in

    low = -s.mean_gap_mm / 2 - _FAR * s.gap_std_mm
    if short(low) >= 0 or short(MAX_CLEARANCE_MM) < 0:
        raise ValueError(f"no clearance up to {MAX_CLEARANCE_MM:g} mm gives this chance with this spread")
    return float(brentq(short, low, MAX_CLEARANCE_MM, xtol=1e-10))


def _goes_in(s: Stack) -> float:
    if s.mean_offset_mm:
        return _between(s, math.inf)
    side = math.hypot(s.gap_std_mm / 2, s.offset_std_mm)
    if side == 0:
        return float(s.mean_gap_mm > 0)
    h = s.mean_gap_mm / 2 / side
    slope = 2 * s.offset_std_mm / s.gap_std_mm if s.gap_std_mm else math.inf
    return max(0.0, float(ndtr(h) - 2 * owens_t(h, slope)))


def _between(s: Stack, play_mm: float) -> float:
    """Return the chance that the part goes in with a gap of at most ``play_mm``."""

    def centred(gap: float) -> float:
        """Chance that the offset leaves room on both sides of a given gap."""
        if s.offset_std_mm == 0:
            return float(abs(s.mean_offset_mm) < gap / 2)
        return float(
            ndtr((gap / 2 - s.mean_offset_mm) / s.offset_std_mm)
            - ndtr((-gap / 2 - s.mean_offset_mm) / s.offset_std_mm)
        )

    mean, std = s.mean_gap_mm, s.gap_std_mm
    if std == 0:
        return centred(mean) if 0 < mean <= play_mm else 0.0
    if s.offset_std_mm == 0:
        least = 2 * abs(s.mean_offset_mm)
        return max(0.0, _below(play_mm, mean, std) - _below(least, mean, std))
    low, high = max(0.0, mean - _FAR * std), min(play_mm, mean + _FAR * std)
    if low >= high:
        return 0.0

    def density(gap: float) -> float:
        z = (gap - mean) / std
        return math.exp(-z * z / 2) / (std * math.sqrt(2 * math.pi)) * centred(gap)

    # Where either factor bends; without them a narrow peak could slip between the nodes.
    bends = (mean, mean - 3 * std, mean + 3 * std, 2 * abs(s.mean_offset_mm))
    value, _ = quad(density, low, high, points=[b for b in bends if low < b < high], epsabs=1e-11, limit=200)
    return min(1.0, value)


def _below(value: float, mean: float, std: float) -> float:
    """Return P(G <= value) of a normal, a step where it does not scatter."""
    return float(ndtr((value - mean) / std)) if std else float(mean <= value)
