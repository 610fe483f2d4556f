"""What drafts do without: exactness where there is much work, but never the work itself."""

import numpy as np

from housingdesk.build.pipeline import Builder
from housingdesk.features.registry import kind_of
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from tests.reference import gear_motor


class _One:
    """A store with one mesh."""

    def __init__(self) -> None:
        self.mesh = gear_motor()

    def get(self, key: str) -> Mesh:
        assert key == self.mesh.key
        return self.mesh


def _spec(held: _One, *kinds: str) -> Spec:
    part = PartSpec(name="part", mesh_key=held.mesh.key)
    features = tuple(kind_of(kind).model_validate({"name": kind}) for kind in kinds)
    return Spec(parts=(part,), parting=PartingSpec(height_mm=9.0), features=features)


def _triangles(builder: Builder, spec: Spec) -> int:
    return sum(m.triangles for m in builder.build(spec, "draft", upto="proof").halves.values())


def test_a_bare_part_keeps_its_final_cavities_while_the_plane_moves() -> None:
    held = _One()
    builder, spec = Builder(held), _spec(held)
    final = builder.build(spec, "final", upto="proof")
    moved = changed(spec, parting=changed(spec.parting, height_mm=9.5))
    exact = sum(m.triangles for m in final.halves.values())
    assert _triangles(builder, moved) > 0.8 * exact


def test_with_features_on_a_dragged_plane_works_on_drafts_and_rest_is_final() -> None:
    held = _One()
    builder, spec = Builder(held), _spec(held, "screws", "lip")
    final = builder.build(spec, "final", upto="proof")
    exact = sum(m.triangles for m in final.halves.values())
    moved = changed(spec, parting=changed(spec.parting, height_mm=9.5))
    draft = builder.build(moved, "draft", upto="proof")
    assert sum(m.triangles for m in draft.halves.values()) < 0.6 * exact
    # What is known as final is shown as it is.  A draft's screws stand off a coarser cavity: 0.2 mm here.
    assert _triangles(builder, spec) == exact
    rested = builder.build(moved, "final", upto="proof")
    for side, half in rested.halves.items():
        assert np.allclose(half.bounds, draft.halves[side].bounds, atol=0.3)


def test_drafts_of_rounds_are_coarser_and_still_no_narrower_than_asked() -> None:
    held = _One()
    builder, spec = Builder(held), _spec(held, "screws")
    coarse = builder.build(spec, "draft", upto="proof")
    fine = builder.build(spec, "final", upto="proof")
    assert [f.clear_hole_mm for f in coarse.features["screws"].fasteners] == [
        f.clear_hole_mm for f in fine.features["screws"].fasteners
    ]
    assert sum(m.triangles for m in coarse.halves.values()) < sum(m.triangles for m in fine.halves.values())
