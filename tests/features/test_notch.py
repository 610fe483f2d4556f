"""The pry notch opens to the outside only."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.lip import Lip
from housingdesk.features.notch import Notch
from housingdesk.features.screws import Screws
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site, halves_with


@pytest.mark.parametrize("notch_in", ["lower", "upper"])
def test_a_blade_goes_in_from_outside_and_not_through(notch_in: Any) -> None:
    site = block_site()
    feature = Notch(name="N", notch_in=notch_in)
    halves = halves_with(site, feature)
    plain = halves_with(site)
    assert (plain[notch_in] - halves[notch_in]).volume_mm3 == pytest.approx(8.0 * 1.2 * 1.2, rel=1e-3)
    joint = build_features((feature,), site).made["N"].joints[0].figures
    up = 1.0 if notch_in == "upper" else -1.0
    # The right side's middle: a blade along x.
    assert (joint["x_mm"], abs(joint["y_mm"])) == pytest.approx((site.outer_mm[1, 0], 1.0), abs=1.0)
    z = sorted((site.parting_z_mm, site.parting_z_mm + up * 1.2))
    blade = Solid.box(
        np.array([joint["x_mm"] - 1.2, joint["y_mm"] - 4, z[0]]),
        np.array([joint["x_mm"] + 30, joint["y_mm"] + 4, z[1]]),
    )
    for half in halves.values():
        assert (half & blade).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    through = blade.shifted((-2.5, 0, 0))
    assert (halves[notch_in] & through).volume_mm3 > 5.0


def test_it_keeps_off_screws_and_the_lip_off_it() -> None:
    site = block_site()
    features = (Screws(name="S"), Notch(name="N", at_mm=(30.0, 20.0)), Lip(name="L"))
    works = build_features(features, site)
    assert set(works.made) == {"S", "N", "L"}
    assert "features-collide" not in {f.code for f in works.findings}
    notch = Solid.union(works.made["N"].cut["lower"])
    for body in (*works.made["L"].add["lower"], *works.made["S"].needs):
        assert (notch & body).volume_mm3 == pytest.approx(0.0, abs=1e-3)


def test_dragged_and_refused() -> None:
    site = block_site()
    moved = Notch(name="N").moved("notch", np.array([-40.0, 3.0, 9.0]), 8.0)
    joint = build_features((moved,), site).made["N"].joints[0].figures
    assert (joint["x_mm"], joint["y_mm"]) == pytest.approx((site.outer_mm[0, 0], 3.0), abs=1.1)
    deep = build_features((Notch(name="N", depth_mm=2.0),), site)
    assert "too thin for a notch" in deep.findings[0].message
