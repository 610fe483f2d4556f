"""A feature that cannot be made still travels to the window with its knob."""

from __future__ import annotations

from housingdesk.build.pipeline import Builder
from housingdesk.features.screws import Screws
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from tests.build.test_zoning import Held
from tests.features.sites import block_site


def test_the_knob_of_a_screw_in_the_part_comes_with_the_result() -> None:
    mesh = block_site().parts["block"]
    lost = Screws(name="Screws", count=1, places_mm=((1.0, 2.0),))
    spec = Spec(
        parts=(PartSpec(name="block", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=8.0),
        features=(lost,),
    )
    result = Builder(Held({mesh.key: mesh})).build(spec, "draft")
    facts = result.features["Screws"]
    assert [h.at_mm[:2] for h in facts.handles] == [(1.0, 2.0)]
    assert facts.fasteners == facts.openings == facts.bill == ()
