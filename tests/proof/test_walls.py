"""Walls of halves of any form, with features on them: figures known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.features.forms.form import rimmed
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Ints, Mesh
from housingdesk.geometry.walls import CAVITY, OUTSIDE, REST, Shell, Wall, shell_of
from housingdesk.proof.shell import floor_and_roof, walls
from housingdesk.proof.subject import Subject
from tests.proof.halves import boxed

Z = 8.0


def half_of(form: Solid, cavity: Solid, *cuts: Solid) -> tuple[Mesh, Ints]:
    """Return the lower half and what each of its triangles was cut from."""
    mesh, source = (form - cavity).below(Z).without(cuts).sourced_mesh()
    skin = np.full(mesh.triangles, REST, np.int32)
    skin[np.isin(source, list(form.sources))] = OUTSIDE
    skin[np.isin(source, list(cavity.sources))] = CAVITY
    return mesh, skin


def measured(form: Solid, cavity: Solid, *cuts: Solid, margin: float = 3.0) -> Shell:
    mesh, skin = half_of(form, cavity, *cuts)
    return shell_of(mesh, form.bounds, Z, upper=False, margin_mm=margin, skin=skin)


def by_side(shell: Shell) -> dict[tuple[tuple[int, int], bool], Wall]:
    return {(w.plane, w.slanted): w for w in shell.walls}


def tube(radius: float, low: float = 0.0, high: float = 20.0) -> Solid:
    return Solid.prism(Outline.circle((0, 0), radius), low, high)


def pocket(x: float, y: float, floor: float) -> Solid:
    return Solid.box(np.array([-x, -y, floor]), np.array([x, y, 99.0]))


def test_a_box_pocket_in_a_cylinder_is_thinnest_at_its_corners() -> None:
    found = by_side(measured(tube(20.0), pocket(12.0, 8.0, 3.0)))
    corner = 20.0 - np.hypot(12.0, 8.0)  # radius less the corner's distance from the axis
    sides = [found[((axis, end), False)].least_mm for axis in (0, 1) for end in (0, 1)]
    assert min(sides) == pytest.approx(corner, abs=0.01)  # the cylinder has 256 sides at most
    assert found[((2, 0), False)].least_mm == pytest.approx(3.0, abs=1e-9)


def test_a_chamfered_rim_is_measured_as_a_slanted_wall() -> None:
    form = rimmed(Outline.rectangle((-20, -20), (20, 20)), 0.0, 20.0, "chamfered", 4.0)
    found = by_side(measured(form, pocket(17.0, 17.0, 3.0)))
    # The pocket's corner lies 3 mm from side and floor: (3 + 3 - 4) / sqrt(2) from the chamfer.
    assert found[((2, 0), True)].least_mm == pytest.approx(2 / np.sqrt(2), abs=1e-9)
    assert found[((2, 0), False)].least_mm == pytest.approx(3.0, abs=1e-9)
    assert found[((0, 1), False)].least_mm == pytest.approx(3.0, abs=1e-9)


def test_a_dent_in_the_outside_is_found_where_the_cavity_has_no_corner() -> None:
    """A notch whose inner corner comes within 1 mm of the middle of a long cavity wall."""
    outline = Outline.rectangle((-20, -20), (20, 20)) - Outline.polygon([(-6, -20), (0, -16), (6, -20)])
    found = by_side(measured(Solid.prism(outline, 0.0, 20.0), pocket(17.0, 15.0, 3.0)))
    assert found[((1, 0), False)].least_mm == pytest.approx(1.0, abs=1e-9)
    assert found[((1, 0), False)].at_mm[:2] == pytest.approx([0.0, -15.0])
    assert found[((1, 1), False)].least_mm == pytest.approx(5.0, abs=1e-9)


def test_holes_of_features_are_no_thin_walls() -> None:
    form, cavity = tube(20.0), pocket(12.0, 8.0, 3.0)
    plain = measured(form, cavity)
    screw = Solid.rod((0, 11.0, -1), (0, 11.0, 30), 2.6)  # 0.4 mm from the pocket
    engraved = Solid.box(np.array([-3.0, -21.0, 2.0]), np.array([3.0, -9.0, 5.0]))  # 1 mm from the pocket
    with_both = measured(form, cavity, screw, engraved)
    for a, b in zip(plain.walls, with_both.walls, strict=True):
        assert b.least_mm == pytest.approx(a.least_mm, abs=1e-6)
    assert with_both.openings == ()


def test_a_cavity_that_breaks_through_a_round_side_is_an_opening_there() -> None:
    form = tube(20.0)
    slot = Solid.box(np.array([-3.0, 0.0, 4.0]), np.array([3.0, 30.0, 7.0]))
    shell = measured(form, pocket(10.0, 8.0, 3.0) | slot)
    assert [o.plane for o in shell.openings] == [(1, 1)]
    assert shell.openings[0].size_mm == pytest.approx((6.0, 3.0), abs=1e-6)
    # Beside the opening the wall is what it is elsewhere: the corner of the pocket.
    assert min(w.least_mm for w in shell.walls[:-1]) == pytest.approx(20 - np.hypot(10, 8), abs=0.02)


def test_the_flat_is_what_lies_lowest() -> None:
    form = rimmed(Outline.rectangle((-20, -20), (20, 20)), 0.0, 20.0, "rounded", 4.0)
    shell = measured(form, pocket(14.0, 14.0, 5.0))
    assert shell.flat_mm2 == pytest.approx(32.0**2, rel=1e-9)
    lifted = Solid.union([form, Solid.box(np.array([-2.0, -2.0, -1.0]), np.array([2.0, 2.0, 1.0]))])
    assert measured(lifted, pocket(14.0, 14.0, 5.0)).flat_mm2 == pytest.approx(16.0, rel=1e-9)


def test_sorting_by_planes_and_by_source_agree_on_a_box() -> None:
    form = Solid.box(np.array([-20.0, -15, 0]), np.array([20.0, 15, 20]))
    cavity = pocket(17.0, 12.5, 3.0)
    mesh, skin = half_of(form, cavity)
    first = shell_of(mesh, form.bounds, Z, upper=False, margin_mm=3.0, skin=skin)
    second = shell_of(mesh, form.bounds, Z, upper=False, margin_mm=3.0)
    assert [w.least_mm for w in first.walls] == [w.least_mm for w in second.walls]
    assert first.flat_mm2 == second.flat_mm2 == pytest.approx(40 * 30)


def _subject(floor_wall: float | None) -> Subject:
    import dataclasses

    return dataclasses.replace(boxed(1.0, 2.0), floor_wall_mm=floor_wall)


def test_floor_and_wall_are_judged_each_by_its_own_wish() -> None:
    from housingdesk.proof.measured import measure

    plain = _subject(None)
    found = measure(plain)
    assert {f.severity for f in floor_and_roof(plain, found)} == {"pass"}
    thicker = _subject(3.0)
    told = {f.code: f for f in floor_and_roof(thicker, found)}
    assert told["floor-lower"].severity == "fail" and "2.00 mm" in told["floor-lower"].message
    assert told["roof-upper"].severity == "pass"
    assert {f.severity for f in walls(thicker, found)} == {"pass"}
    slanted = Wall((2, 0), 1.5, np.zeros(3), slanted=True)
    assert thicker.asked_mm(slanted) == 2.0  # behind a broken edge the lesser of side and floor
    assert _subject(1.2).asked_mm(slanted) == 1.2


def test_distances_are_those_of_a_brute_search() -> None:
    """Every corner of the cavity against every triangle of the outside, by closed form of planes."""
    form = rimmed(Outline.rectangle((-20, -15), (20, 15)), 0.0, 20.0, "chamfered", 2.0)
    cavity = pocket(15.0, 11.0, 4.0)
    planes: list[tuple[Floats, float]] = (
        [(np.array([s, 0.0, 0.0]), 20.0) for s in (-1.0, 1.0)]
        + [(np.array([0.0, s, 0.0]), 15.0) for s in (-1.0, 1.0)]
        + [(np.array([0, 0, -1.0]), 0.0)]
    )
    corners = np.array([[x, y, z] for x in (-15, 15) for y in (-11, 11) for z in (4.0, Z)], float)
    exact = min(float((d - corners @ n).min()) for n, d in planes)
    assert min(w.least_mm for w in measured(form, cavity).walls) == pytest.approx(exact, abs=1e-9)


def test_an_opening_is_as_wide_as_it_is_where_an_ear_stands_at_its_mouth() -> None:
    """A round way out of 8 mm in the front; an ear stands 2 mm proud of the front and over half its rim."""
    form = Solid.box(np.array([-20.0, -20, 0]), np.array([20.0, 20, 20]))
    way = Solid.rod((0, 0, 4.2), (0, -30.0, 4.2), 4.0)
    cavity = pocket(12.0, 12.0, 3.0) | way
    ear = Solid.prism(Outline.rectangle((1.0, -22.0), (12.0, -19.0)), 0.0, 20.0)
    # The lip's inner side runs along the pocket's edge and faces the front, too.
    lip = Solid.prism(Outline.rectangle((-14.0, 12.0), (14.0, 13.0)), 7.5, 10.0)
    for added in ([], [ear], [ear, lip]):
        solid = (Solid.union([form.below(Z), *(a.below(Z) for a in added)]) - cavity) | (
            lip.above(Z) if lip in added else Solid.empty()
        )
        mesh, source = solid.sourced_mesh()
        skin = np.full(mesh.triangles, REST, np.int32)
        skin[np.isin(source, list(form.sources))] = OUTSIDE
        skin[np.isin(source, list(cavity.sources))] = CAVITY
        shell = shell_of(mesh, form.bounds, Z, upper=False, margin_mm=3.0, skin=skin)
        (front,) = [o for o in shell.openings if o.plane == (1, 0)]
        assert front.size_mm == pytest.approx((8.0, 7.8), abs=0.02)  # its top is cut off by the plane
        assert front.low_mm[1] == front.high_mm[1] == pytest.approx(-20.0), "it lies in the form's outside"


def test_what_a_way_out_takes_from_an_ear_before_its_mouth_thins_no_wall() -> None:
    """A round way out of 8 mm ends inside an ear that stands 4 mm proud of the front, beside its mouth."""
    form = Solid.box(np.array([-20.0, -20, 0]), np.array([20.0, 20, 20]))
    way = Solid.rod((0, 0, 5.0), (0, -21.0, 5.0), 4.0)
    cavity = pocket(12.0, 12.0, 3.0) | way
    ear = Solid.prism(Outline.rectangle((2.0, -24.0), (12.0, -19.0)), 0.0, 20.0)
    mesh, source = (Solid.union([form.below(Z), ear.below(Z)]) - cavity).sourced_mesh()
    skin = np.full(mesh.triangles, REST, np.int32)
    skin[np.isin(source, list(form.sources))] = OUTSIDE
    skin[np.isin(source, list(cavity.sources))] = CAVITY
    through = np.array([[-4.0, -20.0, 1.0], [4.0, -12.0, 9.0]])
    shell = shell_of(mesh, form.bounds, Z, upper=False, margin_mm=3.0, skin=skin, meant=[through])
    (front,) = [w for w in shell.walls if w.plane == (1, 0)]
    assert front.least_mm == pytest.approx(8.0)


def test_a_hole_through_an_upright_edge_is_in_both_sides() -> None:
    """No wall is missing beside it: the pocket's own walls are 8 mm there, the margin left out is 3."""
    form, room = Solid.box(np.array([-20.0, -20, 0]), np.array([20.0, 20, 20])), pocket(12.0, 12.0, 3.0)
    shaft = Solid.rod((0.0, 0, 5.0), (40.0, 40.0, 5.0), 1.5)
    shell = measured(form, room | shaft)
    (hole,) = shell.openings
    assert hole.planes == {(0, 1), (1, 1)}
    found = by_side(shell)
    assert found[((0, 0), False)].least_mm == pytest.approx(8.0, abs=1e-9)
    for axis in (0, 1):  # out there the hole has 45 degrees to both sides
        least = found[((axis, 1), False)].least_mm
        assert least > 3.0 * np.sin(np.radians(45.0))


def test_a_hole_between_two_sides_of_a_round_form_thins_neither() -> None:
    """The pocket's wall is 20 - hypot(10, 10) at its corners; beside the hole it is thicker."""
    shaft = Solid.rod((0.0, 0, 5.0), (40.0, 38.0, 5.0), 1.5)
    shell = measured(tube(20.0), pocket(10.0, 10.0, 3.0) | shaft)
    assert [hole.planes for hole in shell.openings] == [{(0, 1), (1, 1)}]
    found = by_side(shell)
    for axis in (0, 1):
        assert found[((axis, 1), False)].least_mm >= 20.0 - np.hypot(10.0, 10.0) - 0.02
