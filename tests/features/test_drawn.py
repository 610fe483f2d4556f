"""Any feature with any legal fields: a sentence or closed halves that share nothing, never a traceback."""

from __future__ import annotations

from functools import cache

import pytest
import trimesh
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from housingdesk.build.pipeline import Builder
from housingdesk.build.works import build_features
from housingdesk.features.feature import Feature
from housingdesk.features.feet import Feet
from housingdesk.features.mark import Mark
from housingdesk.features.registry import kinds
from housingdesk.features.site import Site
from housingdesk.features.wireway import Wireway
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Mesh, Side
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from tests.features.drawn import features, one_of_kind
from tests.features.folds import folded_mm2
from tests.features.sites import PART_HIGH, PART_LOW, block_site, halves_with

SHARED_MM3 = 1e-3
FOLD_MM2 = 1e-3
# The same examples every time, so that a run means the same everywhere.
STEADY = settings(
    deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck), max_examples=12
)


@cache
def site_of(number: int) -> Site:
    """Return one of three housings: tight, with room at the sides, thin."""
    room, wall, clearance = ((0.0, 2.4, 1.0), (8.0, 2.4, 1.0), (0.0, 1.2, 0.3))[number]
    return block_site(room_mm=room, wall_mm=wall, clearance_mm=clearance)


def hold(halves: dict[Side, Solid]) -> None:
    """Check that halves are closed, have no skin of no thickness, and share nothing."""
    for half in halves.values():
        check_closed(half.mesh())
        assert folded_mm2(half.mesh()) < FOLD_MM2
    assert (halves["lower"] & halves["upper"]).volume_mm3 < SHARED_MM3


def check_closed(mesh: Mesh) -> None:
    """Check with another library that a mesh is closed and not inside out."""
    seen = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert seen.is_watertight and seen.is_winding_consistent and seen.volume > 0


def check_words(findings: tuple[Finding, ...]) -> None:
    """Check that everything said is a sentence, and what is wrong comes with what to do."""
    for finding in findings:
        assert finding.message.strip().endswith("."), finding
        assert "\n" not in finding.message and "Traceback" not in finding.message
        assert finding.severity == "pass" or finding.remedy, finding


@pytest.mark.parametrize("kind", kinds())
def test_a_feature_of_any_size_is_made_whole_or_refused_in_words(kind: str) -> None:
    @STEADY
    @given(one_of_kind(kinds()[kind]), st.integers(0, 2))
    def run(feature: Feature, number: int) -> None:
        site = site_of(number)
        works = build_features((feature,), site)
        check_words(works.findings)
        if works.made:
            hold(halves_with(site, feature))
        else:
            assert len([f for f in works.findings if f.severity == "fail"]) == 1

    run()


@settings(STEADY, max_examples=25)
@given(features(), features(), st.integers(0, 2))
@example(
    Feet(name="One"), Wireway(name="Two", side="left", mouth_mm=0.0, squeeze_mm=0.0, relief="labyrinth"), 0
)
def test_two_features_at_once_and_in_each_others_place(one: Feature, two: Feature, number: int) -> None:
    both = (one.model_copy(update={"name": "One"}), two.model_copy(update={"name": "Two"}))
    works = build_features(both, site_of(number))
    check_words(works.findings)
    hold(halves_with(site_of(number), *both))


@settings(STEADY, max_examples=16)
@given(features())
@example(Feet(name="Drawn", diameter_mm=2.0, height_mm=28.0, inset_mm=-50.0, room_mm=3.0))
@example(Mark(name="Drawn", text="Ä漢"))
def test_on_a_housing_built_from_its_part(feature: Feature) -> None:
    builder, spec = built()
    result = builder.build(spec.model_copy(update={"features": (feature,)}), "draft", upto="proof")
    for half in result.halves.values():
        check_closed(half)
    check_words(tuple(f for group in result.said.values() for f in group))


@cache
def built() -> tuple[Builder, Spec]:
    """Return a builder that knows a small block, and the housing around it."""
    mesh = Solid.box(PART_LOW, PART_HIGH).mesh()
    parts = (PartSpec(name="block", mesh_key=mesh.key),)
    return Builder({mesh.key: mesh}), Spec(
        parts=parts, parting=PartingSpec(height_mm=8.0), fit=FitSpec(clearance_mm=0.5)
    )


def test_feet_higher_than_their_half_are_refused() -> None:
    """They stood in the upper half, too."""
    feet = Feet(name="F", diameter_mm=2.0, height_mm=28.0, inset_mm=-50.0)
    works = build_features((feet,), site_of(2))
    assert works.made == {}
    assert "parting plane" in works.findings[0].message


def test_a_letter_the_font_lacks_is_told_in_a_sentence() -> None:
    works = build_features((Mark(name="M", text="Ä漢"),), site_of(1))
    check_words(works.findings)
