"""Dimensions in the section strip, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.build.results import CutPlane, Section
from housingdesk.geometry.types import Floats
from housingdesk.ui.gauge import (
    Dimension,
    cut_plane,
    least_gap,
    measure_at,
    outlines_of,
    zone_gaps,
)
from housingdesk.view3d.cutting import reach_along_normal

PLANE = CutPlane((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def box(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def closed(loop: Floats) -> Floats:
    return np.vstack([loop, loop[:1]])


def boxed_section(gap: float = 1.0, wall: float = 2.4) -> Section:
    """A 20 x 10 part in a cavity grown by the gap, the shell thicker by the wall, halves meeting at y = 5."""
    g, w = gap, wall
    lower = np.array(
        [
            [-g - w, -g - w],
            [20 + g + w, -g - w],
            [20 + g + w, 5],
            [20 + g, 5],
            [20 + g, -g],
            [-g, -g],
            [-g, 5],
            [-g - w, 5],
        ]
    )
    upper = lower * [1, -1] + [0, 10]
    return Section(PLANE, {"lower": (lower,), "upper": (upper,)}, (closed(box(0, 0, 20, 10)),))


def two_zones(shaft_gap: float) -> Section:
    """A 20 x 10 body at 1.0, a shaft of two long lines out through a wall of 2.4 to the right, 40 long."""
    y = 4 - shaft_gap
    lower = np.array(
        [[-3.4, -3.4], [23.4, -3.4], [23.4, y], [21, y], [21, -1], [-1, -1], [-1, 5], [-3.4, 5]], float
    )
    body = np.array([[20, 4], [20, 0], [0, 0], [0, 10], [20, 10], [20, 6]], float)
    shaft = np.array([[20, 4], [60, 4], [60, 6], [20, 6]], float)
    halves = {"lower": (lower,), "upper": (lower * [1, -1] + [0, 10],)}
    outline = closed(np.vstack([body, shaft[::-1][1:-1]]))
    return Section(PLANE, halves, (outline,), zones=(("body", (body,)), ("shaft", (shaft,))))


@pytest.mark.parametrize("gap", [0.5, 1.3])
def test_each_zone_that_is_cut_has_its_least_gap_named(gap: float) -> None:
    section = two_zones(gap)
    found = dict(zone_gaps(section, outlines_of(section)))
    named = {"shaft": gap, "body": 1.0}
    assert list(found) == [f"{name} {mm:.2f}" for name, mm in sorted(named.items(), key=lambda z: z[1])]
    for words, dimension in found.items():
        assert dimension.length_mm == pytest.approx(named[words.split()[0]], abs=1e-9)
    # within the wall, not where the shaft is out in the open
    assert 20.9 < found[f"shaft {gap:.2f}"].start[0] < 23.5


def test_a_cut_of_one_zone_has_its_gap_named_as_ever() -> None:
    section = boxed_section(gap=1.0)
    ((words, found),) = zone_gaps(section, outlines_of(section))
    assert words == "gap 1.00 mm"
    assert found.length_mm == pytest.approx(1.0)


def length(dimension: Dimension | None) -> float:
    assert dimension is not None
    return dimension.length_mm


@pytest.mark.parametrize(
    "at", [(10.0, -0.4), (10.0, 0.3), (-0.5, 3.0), (20.6, 7.0), (10.0, 10.9), (10.0, 0.0)]
)
def test_the_gap_is_the_offset_of_the_cavity(at: tuple[float, float]) -> None:
    found = measure_at(outlines_of(boxed_section(gap=1.0)), at)
    assert found is not None
    assert found.kind == "gap"
    assert found.length_mm == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("at", [(10.0, -2.0), (-2.0, 2.0), (22.5, 8.0), (10.0, 12.0), (-2.0, 5.0 - 1e-3)])
def test_the_wall_is_the_thickness_across_and_no_end_at_the_parting_plane(at: tuple[float, float]) -> None:
    found = measure_at(outlines_of(boxed_section(wall=2.4)), at)
    assert found is not None
    assert found.kind == "wall"
    assert found.length_mm == pytest.approx(2.4, abs=1e-9)


def test_a_gap_across_the_inside_of_the_part_is_no_gap() -> None:
    """Far from its outline inside the part: the way inward meets the part again, the way outward counts."""
    found = measure_at(outlines_of(boxed_section(gap=1.0)), (10.0, 4.0))
    assert found is not None
    assert found.start[1] == pytest.approx(0.0)
    assert found.end[1] == pytest.approx(-1.0)


def test_nothing_to_measure_gives_nothing() -> None:
    empty = Section(PLANE, {}, ())
    assert measure_at(outlines_of(empty), (0.0, 0.0)) is None
    assert least_gap(outlines_of(empty)) is None
    assert outlines_of(empty).box is None
    only_part = Section(PLANE, {}, (closed(box(0, 0, 1, 1)),))
    assert measure_at(outlines_of(only_part), (0.5, 2.0)) is None


def test_the_least_gap_is_found_where_it_is() -> None:
    section = boxed_section(gap=1.0)
    bump = np.array([[8.0, 10.0], [9.0, 10.7], [10.0, 10.0]])
    with_bump = Section(PLANE, section.halves, (*section.parts, closed(bump)))
    found = least_gap(outlines_of(with_bump))
    assert found is not None
    assert found.length_mm == pytest.approx(0.3, abs=1e-9)
    assert found.start == pytest.approx((9.0, 10.7))


@given(st.floats(0.05, 5.0), st.floats(0.4, 8.0), st.floats(0.0, 2 * np.pi))
def test_turning_the_drawing_changes_no_gap(gap: float, wall: float, angle: float) -> None:
    section = boxed_section(gap, wall)
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s], [s, c]])
    turned = Section(
        PLANE,
        {side: tuple(loop @ turn.T for loop in loops) for side, loops in section.halves.items()},
        tuple(line @ turn.T for line in section.parts),
    )
    at = np.array([10.0, -gap / 2]) @ turn.T
    assert length(measure_at(outlines_of(turned), (at[0], at[1]))) == pytest.approx(gap, rel=1e-6)


@given(st.floats(-180, 180), st.floats(-20, 20))
def test_the_cutting_plane_is_upright_and_shifted_along_its_normal(angle: float, offset: float) -> None:
    plane = cut_plane(angle, offset, (1.0, 2.0, 0.0))
    right, up = np.array(plane.right), np.array(plane.up)
    assert np.linalg.norm(right) == pytest.approx(1.0)
    assert right @ up == 0.0
    away = np.array(plane.origin_mm) - (1.0, 2.0, 0.0)
    assert away @ right == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(away) == pytest.approx(abs(offset), abs=1e-9)


@pytest.mark.parametrize(
    ("angle", "reach"), [(0, 15.0), (90, 30.0), (45, (30 + 15) / np.sqrt(2)), (180, 15.0)]
)
def test_the_reach_is_half_the_box_seen_along_the_line(angle: float, reach: float) -> None:
    """Support function of a box: half the sum of its sides' projections on the normal."""
    assert reach_along_normal(angle, (60.0, 30.0)) == pytest.approx(reach)


def test_the_least_gap_of_crowded_outlines_is_that_of_looking_at_every_pair() -> None:
    """Against brute force: every point of a wavy part to every piece of a wavy cavity."""
    turn = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    part = np.column_stack([np.cos(turn), np.sin(turn)]) * (20 + 0.4 * np.sin(7 * turn))[:, None]
    cavity = np.column_stack([np.cos(turn), np.sin(turn)]) * (21.5 + 0.3 * np.cos(11 * turn))[:, None]
    shell = np.column_stack([np.cos(turn), np.sin(turn)]) * 25
    lines = outlines_of(Section(PLANE, {"lower": (shell, cavity)}, (closed(part),)))
    found = least_gap(lines)
    pairs = np.hypot(*(part[:, None, :] - cavity[None, :, :]).transpose(2, 0, 1))
    # Points of the cavity are 0.045 mm apart, so a piece is nearer than its ends by less than 0.001 mm.
    assert length(found) == pytest.approx(pairs.min(), abs=2e-3)


@pytest.mark.parametrize(
    ("kind", "length_mm", "said"),
    [
        ("gap", 0.412, "gap here 0.41 mm"),
        ("gap", 0.005, "touching here"),
        ("wall", 0.005, "wall here 0.01 mm"),
    ],
)
def test_a_rib_that_presses_on_the_part_is_said_to_touch_it(kind, length_mm, said) -> None:
    assert Dimension(kind, (0.0, 0.0), (0.0, length_mm)).words(" here ") == said
