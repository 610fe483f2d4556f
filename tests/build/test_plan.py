"""The housing seen along the pull, as the small plan of the cut draws it."""

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

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


def test_a_round_housing_is_round_and_the_part_has_its_hull() -> None:
    ring = trimesh.creation.annulus(r_min=5.0, r_max=12.0, height=10.0, sections=48)
    plan = _plan(ring, round_form=True)
    (rim,), (hull,) = plan.housing, plan.parts
    radius = np.hypot(*rim.T)
    assert np.ptp(radius) < 0.1
    assert radius.min() > 12.0 + 0.5 + 2.4 - 0.1  # clearance and wall as they are proposed, less a chord
    assert np.hypot(*hull.T).min() > 11.9
    # Against scipy (qhull): the same area, and no hole.
    assert ConvexHull(hull).volume == pytest.approx(ConvexHull(ring.vertices[:, :2]).volume)


def test_what_features_add_is_in_the_plan() -> None:
    box = trimesh.creation.box((40.0, 24.0, 10.0))
    bare, eared = (max(np.ptp(loop[:, 0]) for loop in _plan(box, *k).housing) for k in ((), ("ears",)))
    assert eared > bare + 10.0


def test_a_sheet_that_stands_upright_is_a_line_in_the_plan() -> None:
    hull = Outline.hull_of_points(np.array([[0.0, 0.0], [4.0, 0.0], [2.0, 0.0]]))
    assert hull.area_mm2 == 0.0
