"""Chances on a printer: by scipy's own bivariate normal, and the two ways against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from housingdesk.features.records import Contact, Cushion
from housingdesk.proof.facts import Across
from housingdesk.proof.odds import SHAFT_CODE, SURE, odds, rib_odds, ribs_told, spreads, told
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
    for own in ({"spread_mm": 0.1}, {"hole_correction_mm": 0.0}, {"outside_correction_mm": 0.1}):
        assert "On your printer" in told(odds("body", 0.5, PLAIN), PrinterSpec(**own)).message
    sentences = told(odds("body", 0.5, PLAIN), PLAIN).message.split(". ")
    assert sentences[:2] == [
        "On a usual filament printer over 99.9 % of prints let the part in at the body",
        "In 99.9 % of prints the gaps leave it at most 1.00 mm to move",
    ]


@pytest.mark.parametrize(("own", "other"), [(0.1, 0.5), (0.0, 0.3), (0.05, 0.2)])
def test_what_lies_opposite_counts_on_its_side(own: float, other: float) -> None:
    # Both sides together have own + other - 0.2 of room, +-0.2; the part finds its middle, walls lie +-0.1.
    mean, gap, place = own + other - 0.2, 0.2 / 3, 0.1 / 3
    cov = np.array([[1, 1], [1, 1]]) * gap**2 / 4 + np.array([[1, -1], [-1, 1]]) * place**2
    wanted = multivariate_normal(mean=[-mean / 2, -mean / 2], cov=cov).cdf([0, 0])
    found = odds("floor", own, PLAIN, play_mm=0.3, across=(Across(other),))
    assert found.goes_in == pytest.approx(wanted, abs=1e-4)
    assert found.goes_in_drawn == pytest.approx(wanted, abs=4 * found.error + 1e-4)
    assert found.held == pytest.approx(norm(mean, gap).cdf(0.3), abs=1e-9)
    sure = odds("floor", found.sure_mm, PLAIN, across=(Across(other),))
    assert sure.goes_in == pytest.approx(SURE, abs=1e-6)
    assert f"with {other:.2f} mm opposite" in told(found, PLAIN).message


def test_the_tightest_way_decides_on_going_in_and_the_widest_on_rattling() -> None:
    both = (Across(), Across(0.1, more_mm=0.05))
    found = odds("body", 0.5, PLAIN, across=both)
    assert found.mean_gap_mm == pytest.approx(0.5 + 0.1 + 0.05 - 0.2)
    assert found.goes_in == odds("body", 0.325, PLAIN).goes_in
    assert found.held == odds("body", 0.5, PLAIN).held
    assert odds("body", found.sure_mm, PLAIN, across=both).goes_in == pytest.approx(SURE, abs=1e-6)


def test_a_shaft_that_would_seize_is_a_fault_and_a_tight_one_a_caution() -> None:
    # Holes 0.8 too small and 0.2 asked a side: 0.4 of interference in the hole.
    small = PrinterSpec(process="filament", hole_correction_mm=0.8)
    seized = odds("shaft", 0.2, small, purpose="turning")
    side = np.hypot(0.2 / 3 / 2, 0.1 / 3)
    assert seized.goes_in < norm(0.2, side).cdf(0.0) < 0.01
    said = told(seized, small)
    assert (said.code, said.severity) == (SHAFT_CODE, "fail")
    assert "On your printer less than 0.1 % of prints let the shaft turn freely." in said.message
    assert "move" not in said.message
    assert f"Raise the clearance of the shaft to {seized.advised_mm:.2f} mm" in said.remedy
    # a hole drawn wider by what the printer takes from it is as one of a printer that takes nothing
    drawn = odds("shaft", 0.2, small, purpose="turning", across=(Across(more_mm=0.8),))
    exact = PrinterSpec(process="filament", hole_correction_mm=0.0)
    assert drawn.goes_in == odds("shaft", 0.2, exact, purpose="turning").goes_in > SURE
    assert drawn.sure_mm == pytest.approx(seized.sure_mm - 0.4)
    assert told(drawn, small).severity == "pass"
    tight = told(odds("shaft", 0.18, PLAIN, purpose="turning"), PLAIN)
    assert tight.severity == "caution"
    assert "bearing or bush" in tight.remedy


def test_hot_and_open_zones_are_told_to_go_in_and_nothing_of_rattling() -> None:
    for purpose in ("hot", "open"):
        said = told(odds("plug", 0.5, PLAIN, purpose=purpose), PLAIN)
        assert "of prints let the part in at the plug." in said.message
        assert "move" not in said.message


def test_what_formula_and_count_agree_on_is_said_once() -> None:
    sure = told(odds("body", 0.5, PLAIN), PLAIN).message
    assert "99.9 % (" not in sure
    assert "The formula and 200,000 simulated prints agree." in sure
    found = replace(odds("body", 0.5, PLAIN), goes_in=0.981, goes_in_drawn=0.979)
    apart = told(found, PLAIN).message
    assert "98.1 % (97.9 %) of prints let the part in" in apart
    assert "by formula; in brackets is what 200,000 simulated prints gave where it differs" in apart


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
