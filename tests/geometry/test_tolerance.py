"""The tolerance stack against tabulated quantiles, scipy's bivariate normal, and its own Monte Carlo."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from housingdesk.geometry.tolerance import Chance, Spread, chance, clearance_for, simulate, stack

HOLE = Spread("hole", 0.2, bias_mm=-0.2)
PART = Spread("part", 0.1)
PLACE = Spread("place", 0.15, on="position")


def sigma(std: float, **more: object) -> Spread:
    return Spread("s", std, sigmas=1.0, **more)  # type: ignore[arg-type]  # keywords of Spread, mixed types


@pytest.mark.parametrize(
    ("goes_in", "z"),
    # quantiles of the normal distribution as printed in every table (e.g. NIST/SEMATECH handbook 1.3.6.7.1)
    [(0.90, 1.2816), (0.95, 1.6449), (0.975, 1.9600), (0.99, 2.3263), (0.995, 2.5758), (0.9987, 3.0115)],
)
def test_clearance_by_the_normal_quantile(goes_in: float, z: float) -> None:
    # closed form: 2 c = z s
    assert 2 * clearance_for([sigma(0.1)], goes_in) == pytest.approx(z * 0.1, abs=6e-6)
    assert chance(z * 0.05, [sigma(0.1)], 9).goes_in == pytest.approx(goes_in, abs=2e-5)


def test_three_sigma_limit_holds_99_87_percent_on_one_side() -> None:
    # the 68-95-99.7 rule: one tail beyond 3 s is 0.00135
    assert chance(0.1, [Spread("s", 0.2)], 9).goes_in == pytest.approx(0.99865, abs=1e-5)


def test_root_sum_of_squares() -> None:
    # closed form: 3-4-5
    s = stack(0.5, [sigma(0.3), sigma(0.4)])
    assert s.gap_std_mm == pytest.approx(0.5)
    assert s.mean_gap_mm == pytest.approx(1.0)
    assert dict(stack(0.5, [Spread("a", 0.3), Spread("b", 0.4)]).shares) == pytest.approx(
        {"a": 0.36, "b": 0.64}
    )


def test_worst_case_adds_limits_plainly() -> None:
    # by hand: (2 x 0.5 - 0.2 - 0.2 - 0.1) / 2 - 0.15
    assert stack(0.5, [HOLE, PART, PLACE]).worst_side_mm == pytest.approx(0.1)


def test_position_halves_weigh_as_they_should() -> None:
    # a position of s and a gap of 2 s move one side equally
    shares = stack(0.5, [Spread("gap", 0.4), Spread("place", 0.2, on="position")]).shares
    assert [v for _, v in shares] == pytest.approx([0.5, 0.5])


@given(
    st.floats(-0.2, 0.6),
    st.floats(0.02, 0.5),
    st.floats(0.02, 0.5),
    st.floats(-0.2, 0.2),
    st.floats(0.05, 1.5),
)
def test_formula_against_scipys_bivariate_normal(
    clearance: float, gap: float, place: float, bias: float, play: float
) -> None:
    # outside: scipy.stats.multivariate_normal.cdf (Genz); it wants an upper bound, so both sides are negated
    found = chance(clearance, [sigma(gap), sigma(place, on="position", bias_mm=bias)], play)
    side, cross = gap**2 / 4 + place**2, gap**2 / 4 - place**2
    want = multivariate_normal.cdf(
        [0, 0], mean=[-clearance - bias, -clearance + bias], cov=[[side, cross], [cross, side]]
    )
    assert found.goes_in == pytest.approx(want, abs=1e-5)
    # Frechet's bounds for two events together
    assert found.both <= min(found.goes_in, found.held) + 1e-9
    assert found.both >= found.goes_in + found.held - 1 - 1e-9


def test_position_without_bias_and_with_a_breath_of_it_agree() -> None:
    # Owen's closed form against the integral
    closed = chance(0.2, [HOLE, PART, PLACE], 0.5)
    nearly = chance(0.2, [HOLE, PART, Spread("p", 0.15, bias_mm=1e-9, on="position")], 0.5)
    assert nearly.goes_in == pytest.approx(closed.goes_in, abs=1e-8)


@pytest.mark.parametrize("clearance", [0.05, 0.15, 0.25, 0.4])
@pytest.mark.parametrize(
    "spreads",
    [
        [HOLE, PART],
        [HOLE, PART, PLACE],
        [HOLE, Spread("p", 0.15, bias_mm=0.08, on="position")],
        [PLACE],
        [Spread("p", 0.0, bias_mm=0.1, on="position"), HOLE],
    ],
)
def test_formula_within_the_monte_carlos_error(clearance: float, spreads: list[Spread]) -> None:
    formula, drawn = chance(clearance, spreads, 0.45), simulate(clearance, spreads, 0.45)
    for name in ("goes_in", "held", "both"):
        assert abs(getattr(formula, name) - getattr(drawn, name)) < 4 * drawn.error, name
    assert 0 < drawn.error < 0.0012  # sqrt(0.25 / 200 000)


def test_same_seed_same_answer_other_seed_another() -> None:
    spreads = [HOLE, PART, PLACE]
    assert simulate(0.2, spreads, 0.4) == simulate(0.2, spreads, 0.4)
    assert simulate(0.2, spreads, 0.4) != simulate(0.2, spreads, 0.4, seed=2)


@given(st.floats(0.5, 0.9999), st.floats(0.01, 0.5), st.floats(0.0, 0.5), st.floats(-0.3, 0.3))
def test_clearance_for_is_the_inverse_of_the_chance(q: float, gap: float, place: float, bias: float) -> None:
    spreads = [sigma(gap, bias_mm=bias), sigma(place, on="position")]
    assert chance(clearance_for(spreads, q), spreads, 9).goes_in == pytest.approx(q, abs=1e-7)


def test_more_spread_needs_more_clearance() -> None:
    assert clearance_for([HOLE]) < clearance_for([HOLE, PART]) < clearance_for([HOLE, PART, PLACE])
    # a hole that prints 0.2 small needs 0.1 a side more
    assert clearance_for([HOLE]) - clearance_for([Spread("h", 0.2)]) == pytest.approx(0.1)


def test_no_spread_is_a_step() -> None:
    assert chance(0.1, [], 0.2) == Chance(1.0, 1.0, 1.0)
    assert chance(0.1, [], 0.19) == Chance(1.0, 0.0, 0.0)
    assert chance(0.0, [], 0.2) == Chance(0.0, 1.0, 0.0)
    assert clearance_for([]) == 0.0
    # only the position scatters: P(|e| < c) = 2 Phi(c/s) - 1 = 0.6827 at one s
    assert chance(0.1, [sigma(0.1, on="position")], 1).goes_in == pytest.approx(0.68269, abs=1e-5)
    assert chance(-0.1, [sigma(0.1, on="position")], 1).goes_in == 0.0


@pytest.mark.parametrize("bad", [0.0, 1.0, -1.0, math.nan])
def test_impossible_chances_are_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="chance"):
        clearance_for([HOLE], bad)


def test_impossible_spreads_are_refused() -> None:
    with pytest.raises(ValueError, match="limit"):
        Spread("s", -0.1)
    with pytest.raises(ValueError, match="finite"):
        Spread("s", math.nan)
    with pytest.raises(ValueError, match="no clearance"):
        clearance_for([sigma(80, on="position")])
