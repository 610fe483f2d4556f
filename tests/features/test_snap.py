"""Snap hooks against published worked examples and beam theory (check-values.md section 3)."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from housingdesk.features import snap


def test_the_makers_worked_example_of_a_lid() -> None:
    """Example A: ABS lid, a resin maker's design manual, Figures III-3 and IV-2..4 (scribd 386071682, RC).

    Thickness tapers to half; E 315,000 psi, 6.5 %, L 0.600 in, t 0.1014 in, b 0.125 in, friction 0.6,
    30 degrees, deflection magnification Q 1.20 (a soft wall at the root, not in the plain formula).
    """
    length, thick, wide, modulus, allowed, q = 0.600, 0.1014, 0.125, 315_000.0, 0.065, 1.20
    assert q * snap.deflection(allowed, length, thick, 0.5) == pytest.approx(0.301, rel=0.005)
    bending = snap.bending_force(wide, thick, modulus, allowed, length)
    assert bending == pytest.approx(7.31, rel=0.005)
    assert snap.push_force(bending, 30.0, 0.6) == pytest.approx(13.17, rel=0.005)
    third = allowed / 3
    # Printed with three digits.
    assert q * snap.deflection(third, length, thick, 0.5) == pytest.approx(0.100, abs=0.001)
    assert snap.bending_force(wide, thick, modulus, third, length) == pytest.approx(2.44, rel=0.005)


def test_force_ratio() -> None:
    """Example B: W/P 1.8014 at friction 0.6 and 30 degrees."""
    assert snap.push_force(1.0, 30.0, 0.6) == pytest.approx(1.8014, abs=1e-4)


def test_steep_hooks_lock_themselves() -> None:
    assert math.isinf(snap.push_force(1.0, 60.0, 0.6))  # 0.6 tan 60 = 1.04
    assert math.isfinite(snap.push_force(1.0, 59.0, 0.6))
    assert math.isinf(snap.push_force(1.0, 90.0, 0.6))


def test_strain_of_a_plain_hook() -> None:
    """Examples C (ntelab.com): 4.17 % for Y 2.5, h 2.5, L 15, and 2.89 % for L 18."""
    assert snap.strain(2.5, 15.0, 2.5) == pytest.approx(0.0417, rel=0.005)
    assert snap.strain(2.5, 18.0, 2.5) == pytest.approx(0.0289, rel=0.005)


def test_length_of_a_plain_hook() -> None:
    """Example D (filamentfeed.com): h 1.6, Y 0.8, 2.5 % -> 8.76 mm."""
    assert snap.length_for(0.8, 1.6, 0.025) == pytest.approx(8.76, rel=0.005)


# Multipliers computed from the definition (check-values 3a, C), and by scipy's quadrature of the beam here.
@pytest.mark.parametrize(
    ("tip", "factor"), [(1.0, 0.6667), (0.5, 1.0904), (0.33, 1.4245), (0.3, 1.5100), (0.25, 1.6832)]
)
def test_taper(tip: float, factor: float) -> None:
    assert snap.taper_factor(tip) == pytest.approx(factor, abs=2e-4)
    whole, _ = quad(lambda x: 12 * x * x / (6 * (tip + (1 - tip) * x) ** 3), 0, 1)
    assert snap.taper_factor(tip) == pytest.approx(whole, rel=1e-9)


@pytest.mark.parametrize("tip", [0.9985, 0.9991, 0.9999])
def test_taper_is_smooth_where_the_closed_form_cancels(tip: float) -> None:
    whole, _ = quad(lambda x: 2 * x * x / (tip + (1 - tip) * x) ** 3, 0, 1)
    assert snap.taper_factor(tip) == pytest.approx(whole, rel=1e-5)


def test_a_tip_thicker_than_the_root_is_refused() -> None:
    for tip in (0.0, 1.2, -1.0):
        with pytest.raises(ValueError, match="thinner"):
            snap.taper_factor(tip)
