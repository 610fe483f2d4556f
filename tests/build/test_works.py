"""Features together: order, what is left out, who collides with whom."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.access import AccessHole
from housingdesk.features.ears import Ears
from housingdesk.features.feature import Feature
from housingdesk.features.gland import GlandHole
from housingdesk.features.site import Site
from housingdesk.features.vents import Vents
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site


def cube(x: float, size: float = 2.0) -> Solid:
    low = np.array([x, 0.0, 0.0])
    return Solid.box(low, low + size)


class Made(Feature):
    """A feature of the tests: its works are given."""

    ORDER: ClassVar[int] = 50
    kind: Literal["made-for-tests"] = "made-for-tests"
    cut_at: tuple[float, ...] = ()
    need_at: tuple[float, ...] = ()
    free_at: tuple[float, ...] = ()
    add_at: tuple[float, ...] = ()
    refuses: bool = False

    def build(self, site: Site) -> Work:
        if self.refuses:
            raise SpecError("It cannot be.")
        return Work(
            add={"lower": tuple(cube(x) for x in self.add_at)},
            cut={"upper": tuple(cube(x) for x in self.cut_at)},
            needs=tuple(cube(x) for x in self.need_at),
            keep_out=tuple(cube(x) for x in self.free_at),
        )


@pytest.mark.parametrize(
    ("cuts", "needs", "collide"),
    [
        ((0.0,), (1.0,), True),
        ((0.0,), (1.95,), False),  # less than half a cubic millimetre
        ((0.0,), (5.0,), False),
        ((-9.0, 0.0, 20.0), (40.0, 60.0, 21.0), True),  # only one of each list meets one of the other
        ((), (0.0,), False),
        ((0.0,), (), False),
        # Several small bites add up: 3 x 0.2 mm3.
        ((0.0, 10.0, 20.0), (1.95, 11.95, 21.95), True),
    ],
)
def test_pairs_that_collide_are_listed(cuts: Any, needs: Any, collide: bool) -> None:
    works = build_features((Made(name="A", cut_at=cuts), Made(name="B", need_at=needs)), block_site())
    found = [f for f in works.findings if f.code == "features-collide"]
    assert [f.severity for f in found] == ["fail"] * collide
    assert all("A" in f.message and "B" in f.message and f.where_mm is not None for f in found)


def test_what_cannot_be_made_is_left_out_and_said() -> None:
    works = build_features(
        (Made(name="A", refuses=True), Made(name="B"), Made(name="C", on=False)), block_site()
    )
    assert set(works.made) == {"B"}
    assert [(f.severity, "It cannot be." in f.message) for f in works.findings] == [("fail", True)]


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [
        ({"free_at": (0.0,)}, {"free_at": (1.0,)}, "A and B run into each other."),
        ({"free_at": (0.0,)}, {"free_at": (1.95,)}, None),
        ({"add_at": (0.0,)}, {"free_at": (1.0,)}, "A stands in the room that B needs."),
        ({"free_at": (1.0,)}, {"add_at": (0.0,)}, "B stands in the room that A needs."),
        ({"add_at": (0.0,)}, {"free_at": (1.0,), "cut_at": (1.0,)}, None),  # it cuts its room free itself
        ({"add_at": (0.0,)}, {"free_at": (1.0,), "cut_at": (1.5,)}, "A stands in the room that B needs."),
    ],
)
def test_two_that_want_the_same_room_are_told_to_both(one: Any, other: Any, said: str | None) -> None:
    works = build_features((Made(name="A", **one), Made(name="B", **other)), block_site())
    found = [f for f in works.findings if f.code == "features-collide"]
    assert [(f.severity, f.message) for f in found] == ([("caution", said)] if said else [])
    assert all(found[0] in works.said[name] for name in "AB" if found)


def test_an_ear_before_a_gland_and_holes_in_vents_are_told() -> None:
    site = block_site()
    features = (
        GlandHole(name="Gland", side="right", height_mm=8.0),
        Ears(name="Ears", sides="right"),
        Vents(name="Vents", side="roof"),
        AccessHole(name="Driver", side="roof", target="a place"),
    )
    works = build_features(features, site)
    said = {f.message for f in works.findings if f.code == "features-collide"}
    assert said == {
        "Ears stands in the room that Gland needs.",
        "Vents and Driver run into each other.",
    }
