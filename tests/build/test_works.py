"""Features together: order, what is left out, who collides with whom."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.site import Site
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
    refuses: bool = False

    def build(self, site: Site) -> Work:
        if self.refuses:
            raise SpecError("It cannot be.")
        return Work(
            cut={"upper": tuple(cube(x) for x in self.cut_at)}, needs=tuple(cube(x) for x in self.need_at)
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
