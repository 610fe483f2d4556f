"""Whether anything keeps the two halves together."""

from __future__ import annotations

import pytest

from housingdesk.build.pipeline import Builder
from housingdesk.features.registry import kind_of
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from tests.reference import gear_motor


class _One:
    """A store with one mesh."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh

    def get(self, key: str) -> Mesh:
        assert key == self.mesh.key
        return self.mesh


@pytest.mark.parametrize(
    ("kinds", "held"), [((), False), (("lip", "dowels"), False), (("screws",), True), (("hooks",), True)]
)
def test_halves_that_nothing_holds_together_are_told(kinds: tuple[str, ...], held: bool) -> None:
    mesh: Mesh = gear_motor()
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=9.0),
        features=tuple(kind_of(kind).model_validate({"name": kind}) for kind in kinds),
    )
    findings = Builder(_One(mesh)).build(spec, "final", upto="proof").findings
    assert [f.severity for f in findings if f.code == "held-together"] == ([] if held else ["caution"])
