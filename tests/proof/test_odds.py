"""Chances on a printer: by scipy's own bivariate normal, and the two ways against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from housingdesk.features.records import Contact, Cushion
from housingdesk.proof.odds import SURE, odds, rib_odds, ribs_told, spreads, told
from housingdesk.spec.models import PrinterSpec

PLAIN = PrinterSpec(process="filament")


def test_filament_by_an_independent_integral() -> None:
    # The shop figures of check-values section 4: holes 0.2 small and +-0.2, walls placed +-0.1; limits are
    # three standard deviations. Both side gaps are normal; their joint chance by scipy.
    clearance = 0.2
    mean, gap, place = 2 * clearance - 0.2, 0.2 / 3, 0.1 / 3
    cov = np.array([[1, 1], [1, 1]]) * gap**2 / 4 + np.array([[1, -1], [-1, 1]]) * place**2
    wanted = multivariate_normal(mean=[-mean / 2, -mean / 2], cov=cov).cdf([0, 0])
    found = odds("body", clearance, PLAIN, play_mm=0.25)
    assert found.goes_in == pytest.approx(wanted, abs=1e-4)
    assert found.held == pytest.approx(norm(mean, gap).cdf(0.25), abs=1e-9)


@pytest.mark.parametrize("clearance", [0.05, 0.1, 0.15, 0.3])
def test_both_ways_agree(clearance: float) -> None:
    found = odds("body", clearance, PLAIN, play_mm=0.3)
    assert found.goes_in_drawn == pytest.approx(found.goes_in, abs=4 * found.error + 1e-4)
    assert found.held_drawn == pytest.approx(found.held, abs=4 * found.error + 1e-4)


def test_the_clearance_told_reaches_99_percent_and_a_little_less_does_not() -> None:
    sure = odds("body", 0.1, PLAIN).sure_mm
    assert odds("body", sure, PLAIN).goes_in == pytest.approx(SURE, abs=1e-6)
    assert odds("body", sure - 0.01, PLAIN).goes_in < SURE


def test_the_users_own_figures_take_the_place_of_the_usual() -> None:
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.05)
    size, place = spreads(own)
    assert (size.limit_mm, size.bias_mm) == (0.05, 0.0)
    assert place.on == "position"
    assert odds("body", 0.1, own).goes_in > odds("body", 0.1, PLAIN).goes_in
    assert sum(share for _, share in odds("body", 0.1, own).shares) == pytest.approx(1)


def test_what_is_said() -> None:
    good = told(odds("body", 0.5, PLAIN), PLAIN)
    assert good.severity == "pass"
    assert "over 99.9 %" in good.message
    tight = told(odds("body", 0.1, PLAIN), PLAIN)
    assert tight.severity == "caution"
    found = odds("body", 0.1, PLAIN)
    assert found.sure_mm <= found.advised_mm < found.sure_mm + 0.01
    assert f"From {found.advised_mm:.2f} mm clearance on" in tight.message
    assert f"Raise the clearance of the body to {found.advised_mm:.2f} mm" in tight.remedy
    assert "your printer" in told(odds("body", 0.5, PLAIN), PrinterSpec(spread_mm=0.1)).message


def test_what_formula_and_count_agree_on_is_said_once() -> None:
    sure = told(odds("body", 0.5, PLAIN), PLAIN).message
    assert "99.9 % (" not in sure
    assert "by formula and as counted on 200,000 simulated prints alike" in sure
    found = replace(odds("body", 0.5, PLAIN), goes_in=0.981, goes_in_drawn=0.979)
    apart = told(found, PLAIN).message
    assert "98.1 % (97.9 %) of prints let the part in" in apart
    assert "in brackets as counted on 200,000 simulated prints where that differs" in apart


def pressing(press_mm: float, *outs: tuple[float, float, float]) -> list[Contact]:
    return [Contact((0, 0, 0), 1.0, press_mm, out) for out in outs]


@pytest.mark.parametrize("press", [0.0, 0.05, 0.1])
def test_ribs_on_both_sides_touch_as_a_normal_distribution_has_it(press: float) -> None:
    # Room rib to rib -2 p, scattering +-0.2 at three standard deviations about -0.0 (corrected for holes).
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.2)
    deep = max(press, 1e-9)
    (found,) = rib_odds(pressing(deep, (1, 0, 0), (-1, 0, 0)), 0.3, own)
    assert (found.axis, found.sides) == (0, 2)
    assert found.touch == pytest.approx(norm(-2 * deep, 0.2 / 3).cdf(0.0), abs=1e-9)
    assert found.touch_drawn == pytest.approx(found.touch, abs=4 * found.error + 1e-4)


def test_a_rib_at_one_end_has_the_clearance_of_the_other_to_take_up() -> None:
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.3)
    (found,) = rib_odds(pressing(0.2, (0, 0, -1)), 0.25, own)
    assert (found.axis, found.sides, found.room_mm) == (2, 1, pytest.approx(0.05))
    assert found.touch == pytest.approx(norm(0.05, 0.1).cdf(0.0), abs=1e-9)
    (said,) = ribs_told((found,), own)
    assert said.severity == "caution"
    assert "at one end only between floor and roof" in said.remedy


def test_the_depth_told_reaches_99_percent_and_the_deepest_rib_counts() -> None:
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.3)
    ends = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
    (found,) = rib_odds([*pressing(0.05, *ends), *pressing(0.01, *ends)], 0.3, own)
    assert found.room_mm == pytest.approx(-0.1)
    (deeper,) = rib_odds(pressing(0.05 + found.more_mm, *ends), 0.3, own)
    assert found.touch < SURE
    assert deeper.touch == pytest.approx(SURE, abs=1e-9)
    assert "deeper for 99 %" in ribs_told((found,), own)[0].remedy
    (sure,) = ribs_told(rib_odds(pressing(0.3, *ends), 0.3, own), own)
    assert sure.severity == "pass"
    assert "over 99.9 %" in sure.message


def test_what_only_touches_is_no_rib() -> None:
    assert rib_odds(pressing(0.0, (1, 0, 0)), 0.3, PLAIN) == ()
    assert ribs_told((), PLAIN) == ()


def test_pads_stray_in_thickness_besides_the_cavity() -> None:
    # 2.0 mm of foam in a gap of 1.4 at each end: -1.2 of room, +-0.3 of the cavity and +-0.4 of each pad.
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.3)
    foam = [Cushion((x, 0.0, 0.0), 0.6, 0.4) for x in (1.0, -1.0)]
    (found,) = rib_odds([], 1.4, own, foam)
    assert (found.axis, found.sides, found.pads) == (0, 2, True)
    whole = norm(-1.2, np.sqrt(0.3**2 + 2 * 0.4**2) / 3)
    assert found.touch == pytest.approx(whole.cdf(0.0), abs=1e-9)
    assert ribs_told((found,), own)[0].severity == "pass"
    (thin,) = rib_odds([], 1.4, own, [Cushion(c.out, 0.05, 0.4) for c in foam])
    (said,) = ribs_told((thin,), own)
    assert "the pads touch" in said.message
    assert "Take pads" in said.remedy
    (enough,) = rib_odds([], 1.4, own, [Cushion(c.out, 0.05 + thin.more_mm, 0.4) for c in foam])
    assert enough.touch == pytest.approx(SURE, abs=1e-9)


def test_tape_that_leaves_room_counts_only_against_something_that_presses() -> None:
    own = PrinterSpec(process="filament", hole_correction_mm=0.0, spread_mm=0.3)
    tape = Cushion((0.0, 0.0, 1.0), -0.2, 0.1)
    assert rib_odds([], 0.5, own, [tape]) == ()
    (found,) = rib_odds(pressing(0.3, (0, 0, -1)), 0.5, own, [tape])
    assert found.room_mm == pytest.approx(-0.1)  # a bare end would leave 0.2
    assert found.touch == pytest.approx(norm(-0.1, np.hypot(0.3, 0.1) / 3).cdf(0.0), abs=1e-9)
