"""Cantilever snap hooks: strain, force to bend and force to push in.

The formulas are those of the resin makers' design guides (3dprintcalcs.uk snap-fit calculator; synectic.net
snap-fit-design; checked against a maker's worked example, see tests).  Lengths in any one unit, strain as a
share (0.02 is 2 %), modulus in force per unit squared.
"""

from __future__ import annotations

import math

FRICTION = 0.6  # plastic on plastic, as the makers' worked examples take it


def taper_factor(tip_share: float) -> float:
    """Return K in ``deflection = K strain length^2 / thickness`` for a thickness that tapers towards the tip.

    Beam theory: twice the integral of x^2 / (r + (1 - r) x)^3 from the tip, x = 0, to the root, x = 1;
    2/3 for a constant thickness, r = 1.  The strain is that at the root.
    """
    r = tip_share
    if not 0.0 < r <= 1.0:
        raise ValueError("the tip is as thick as the root or thinner")
    k = 1.0 - r
    if k < 1e-3:
        return 2.0 / 3.0 + k / 2.0 + 0.4 * k * k  # first terms of the series: the closed form cancels here
    # With t = r + k x: x^2 / t^3 = (t - r)^2 / (k^2 t^3), integrated term by term from r to 1.
    whole = math.log(1.0 / r) + 2 * r * (1.0 - 1.0 / r) - r * r / 2 * (1.0 - 1.0 / r**2)
    return 2.0 * whole / k**3


def deflection(strain: float, length: float, thickness: float, tip_share: float = 1.0) -> float:
    """Return how far the hook may bend: K strain length^2 / thickness."""
    return taper_factor(tip_share) * strain * length**2 / thickness


def strain(bent: float, length: float, thickness: float, tip_share: float = 1.0) -> float:
    """Return the strain at the root of a hook that is bent so far."""
    return bent * thickness / (taper_factor(tip_share) * length**2)


def length_for(bent: float, thickness: float, allowed: float, tip_share: float = 1.0) -> float:
    """Return the shortest hook that may be bent so far: from ``strain`` solved for the length."""
    return math.sqrt(bent * thickness / (taper_factor(tip_share) * allowed))


def bending_force(width: float, thickness: float, modulus: float, at_strain: float, length: float) -> float:
    """Return the force at the tip that bends the hook: b h^2 E e / (6 l)."""
    return width * thickness**2 * modulus * at_strain / (6.0 * length)


def push_force(bending: float, slope_deg: float, friction: float = FRICTION) -> float:
    """Return the force that pushes the hook in or pulls it off: P (mu + tan a) / (1 - mu tan a).

    Infinite where the slope locks itself, mu tan a >= 1.
    """
    slope = math.tan(math.radians(slope_deg))
    locked = 1.0 - friction * slope
    return math.inf if locked <= 1e-12 else bending * (friction + slope) / locked
