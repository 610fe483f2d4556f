"""The housing seen along the pull, as the small plan of the cut draws it."""

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import Plan
from housingdesk.features.forms.round import Round
from housingdesk.features.registry import kind_of
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import PartingSpec, PartSpec, Spec


def _plan(body: trimesh.Trimesh, *kinds: str, round_form: bool = False) -> Plan:
    mesh = Mesh(np.asarray(body.vertices, float), np.asarray(body.faces, np.int32))
    part = PartSpec(name="part", mesh_key=mesh.key)
    features = tuple(kind_of(kind).model_validate({"name": kind}) for kind in kinds)
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=5.0), features=features)
    if round_form:
        spec = changed(spec, shell=changed(spec.shell, form=Round()))

    class One:
        def get(self, key: str) -> Mesh:
            return mesh

    return Builder(One()).build(spec, "draft").plan


def test_a_round_housing_is_round_and_the_part_has_its_hole() -> None:
    ring = trimesh.creation.annulus(r_min=5.0, r_max=12.0, height=10.0, sections=48)
    plan = _plan(ring, round_form=True)
    (rim,), (outside, hole) = plan.housing, sorted(plan.parts, key=np.ptp, reverse=True)
    radius = np.hypot(*rim.T)
    assert np.ptp(radius) < 0.1
    assert radius.min() > 12.0 + 0.5 + 2.4 - 0.1  # clearance and wall as they are proposed, less a chord
    assert np.hypot(*outside.T) == pytest.approx(12.0, abs=0.1)  # 24 mm in 300 cells
    assert np.hypot(*hole.T) == pytest.approx(5.0, abs=0.1)


def test_what_features_add_is_in_the_plan() -> None:
    box = trimesh.creation.box((40.0, 24.0, 10.0))
    bare, eared = (max(np.ptp(loop[:, 0]) for loop in _plan(box, *k).housing) for k in ((), ("ears",)))
    assert eared > bare + 10.0


def test_a_shaft_is_a_strip_and_no_wedge() -> None:
    """Exact areas: the body's square and what of the shaft sticks out of it."""
    body = trimesh.creation.box((40.0, 24.0, 10.0))
    shaft = trimesh.creation.box((4.0, 30.0, 4.0))
    shaft.apply_translation((12.0, -20.0, 0.0))
    plan = _plan(trimesh.util.concatenate([body, shaft]))
    (seen,) = (Outline.polygon(*plan.parts),)
    assert seen.area_mm2 == pytest.approx(40.0 * 24.0 + 4.0 * 23.0, rel=0.01)


def test_a_fine_surface_keeps_its_shadow_within_a_cell() -> None:
    """Against the exact shadow: a bored ball of many triangles, aslant."""
    ball = trimesh.creation.torus(20.0, 6.0, major_sections=96, minor_sections=48)
    ball.apply_transform(trimesh.transformations.rotation_matrix(0.4, (1, 2, 0)))
    tris = np.asarray(ball.triangles)
    rough, exact, cell = Outline.rough_shadow(tris), Outline.shadow(tris), 52.0 / 300
    assert exact.grown(cell).covers(rough)
    assert rough.grown(cell).covers(exact)
    assert sum(map(len, rough.loops)) < sum(map(len, exact.loops))


def test_nothing_has_no_shadow() -> None:
    assert Outline.rough_shadow(np.zeros((0, 3, 3))).is_empty


def test_a_sheet_that_stands_upright_is_a_line_in_the_plan() -> None:
    sheet = np.array([[[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [2.0, 0.0, 5.0]]])
    assert Outline.rough_shadow(sheet).is_empty
