"""Copies of features: where a mirror image lies, and a row of them."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import pytest
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.ears import Ears
from housingdesk.features.feature import Feature
from housingdesk.features.keyholes import Keyholes
from housingdesk.features.mount_plate import MountPlate
from housingdesk.features.notch import Notch
from housingdesk.features.rail_clip import RailClip
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.spec.edits_copies import Across, mirror_feature, mirrored, repeat_feature, shifted
from housingdesk.spec.models import PartingSpec, PartSpec, Spec

Face = Literal["left", "right", "front", "back", "floor", "roof"]


class Inert(Feature):
    """Makes nothing; only for tests."""

    def build(self, site: Site) -> Work:
        return Work()


class Hole(Inert):
    """On a side; only for tests."""

    TITLE: ClassVar[str] = "Hole"
    kind: Literal["test_hole"] = "test_hole"
    side: Face = "front"
    across_mm: float | None = Field(default=None, ge=-100, le=100)
    height_mm: float | None = None


class Pins(Inert):
    """Upright; only for tests."""

    TITLE: ClassVar[str] = "Pins"
    kind: Literal["test_pins"] = "test_pins"
    places_mm: tuple[tuple[float, float], ...] = ()
    x_mm: float = 0.0


class Lip(Inert):
    """Without a place; only for tests."""

    kind: Literal["test_lip"] = "test_lip"


def spec(*features: Feature) -> Spec:
    part = PartSpec(name="motor", mesh_key="k")
    return Spec(parts=(part,), parting=PartingSpec(height_mm=5), features=features)


@pytest.mark.parametrize(
    ("side", "across", "axis", "to"),
    [
        # Along x on front and back, along y on left and right; the height stays but on floor and roof.
        ("front", 7.0, "x", ("front", -7.0, 3.0)),
        ("front", 7.0, "y", ("back", 7.0, 3.0)),
        ("left", 7.0, "x", ("right", 7.0, 3.0)),
        ("left", 7.0, "y", ("left", -7.0, 3.0)),
        ("roof", 7.0, "x", ("roof", -7.0, 3.0)),
        ("roof", 7.0, "y", ("roof", 7.0, -3.0)),
    ],
)
def test_a_mirror_image_lies_as_far_on_the_other_side(
    side: Face, across: float, axis: Across, to: tuple[str, float, float]
) -> None:
    hole = Hole(name="a", side=side, across_mm=across, height_mm=3.0)
    got = mirrored(hole, axis)
    assert isinstance(got, Hole)
    assert (got.side, got.across_mm, got.height_mm) == to
    assert mirrored(got, axis) == hole


def test_upright_features_are_mirrored_by_their_places() -> None:
    pins = Pins(name="a", places_mm=((1.0, 2.0), (-3.0, 4.0)), x_mm=5.0)
    got = mirrored(pins, "x")
    assert isinstance(got, Pins)
    assert (got.places_mm, got.x_mm) == (((-1.0, 2.0), (3.0, 4.0)), -5.0)
    assert mirrored(pins, "y").places_mm == ((1.0, -2.0), (-3.0, -4.0))  # type: ignore[attr-defined]  # still pins


@pytest.mark.parametrize(
    ("feature", "axis", "changed"),
    [
        (Ears(name="a", sides="left", along_mm=3.0), "x", {"sides": "right", "along_mm": 3.0}),
        (Ears(name="a", sides="left", along_mm=3.0), "y", {"sides": "left", "along_mm": -3.0}),
        (Ears(name="a", sides="front and back", along_mm=3.0), "x", {"along_mm": -3.0}),
        (Keyholes(name="a", side="back", along_mm=3.0), "x", {"side": "back", "along_mm": -3.0}),
        (Notch(name="a", at_mm=(20.0, 4.0)), "y", {"at_mm": (20.0, -4.0)}),
        (MountPlate(name="a", points="-40 1.5; 30 2"), "x", {"points": "40 1.5; -30 2"}),
        (RailClip(name="a", side="back", across_mm=2.0), "x", {"across_mm": -2.0}),
    ],
)
def test_mounts_and_notches_are_mirrored_too(feature: Feature, axis: Across, changed: dict[str, Any]) -> None:
    got = mirrored(feature, axis)
    assert {name: getattr(got, name) for name in changed} == changed
    assert mirrored(got, axis) == feature


def test_mounts_are_repeated_along_their_side_and_a_symmetric_plate_is_not_doubled() -> None:
    assert shifted(Ears(name="a", sides="left"), 8.0).along_mm == 8.0  # type: ignore[attr-defined]
    assert shifted(Keyholes(name="a"), 8.0).along_mm == 8.0  # type: ignore[attr-defined]
    with pytest.raises(SpecError, match="in the middle"):
        mirror_feature("a", "x").apply(spec(MountPlate(name="a", points="-40 0; 40 0")), {})


def test_the_copy_has_a_name_of_its_own() -> None:
    after = mirror_feature("Hole", "x").apply(spec(Hole(name="Hole", across_mm=4.0)), {})
    assert [(f.name, f.across_mm) for f in after.features if isinstance(f, Hole)] == [
        ("Hole", 4.0),
        ("Hole 2", -4.0),
    ]


@pytest.mark.parametrize("feature", [Hole(name="a"), Hole(name="a", across_mm=0.0), Lip(name="a")])
def test_what_lies_in_the_middle_is_not_doubled(feature: Feature) -> None:
    with pytest.raises(SpecError, match="in the middle"):
        mirror_feature("a", "x").apply(spec(feature), {})


def test_a_row_goes_along_the_side() -> None:
    after = repeat_feature("a", 3, 12.0).apply(spec(Hole(name="a", side="left", across_mm=-5.0)), {})
    assert [f.across_mm for f in after.features if isinstance(f, Hole)] == [-5.0, 7.0, 19.0, 31.0]
    assert [f.name for f in after.features] == ["a", "a 2", "a 3", "a 4"]
    assert shifted(Hole(name="a"), 2.5).across_mm == 2.5  # type: ignore[attr-defined]  # left open: the middle


def test_what_has_no_place_is_not_repeated_and_a_limit_is_told() -> None:
    with pytest.raises(SpecError, match="no place of its own"):
        repeat_feature("a", 1, 5.0).apply(spec(Lip(name="a")), {})
    with pytest.raises(SpecError, match="between -100 and 100"):
        repeat_feature("a", 20, 9.0).apply(spec(Hole(name="a")), {})
