"""Dowels and sockets: round, clear of each other, in the same place on both halves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.dowels import Dowels
from housingdesk.features.lip import Lip
from housingdesk.features.screws import Screws
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site, halves_with
from tests.features.slices import UP, bore_at, exported, loops


def joints(site: Site, feature: Dowels) -> Work:
    works = build_features((feature,), site)
    assert feature.name in works.made, works.findings
    return works.made[feature.name]


@pytest.mark.parametrize("socket_in", ["upper", "lower"])
@pytest.mark.parametrize("gap", [0.1, 0.3])
@pytest.mark.parametrize("room", [0.0, 12.0])
def test_pins_and_sockets_keep_their_room(socket_in: Any, gap: float, room: float) -> None:
    site = block_site(room_mm=room)
    halves = halves_with(site, Dowels(name="D", gap_mm=gap, socket_in=socket_in, height_mm=3.0))
    z = site.parting_z_mm
    pins = halves["lower"].above(z + 0.3) if socket_in == "upper" else halves["upper"].below(z - 0.3)
    assert len(pins.bodies()) == 2
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    assert pins.min_gap(halves[socket_in], 1.0) == pytest.approx(gap, abs=0.012)
    assert all(len(half.bodies()) == 1 for half in halves.values())
    for side, half in halves.items():
        assert (half & site.cavity[side]).volume_mm3 == pytest.approx(0.0, abs=1e-6)


def test_sizes_on_the_exported_halves() -> None:
    site = block_site(room_mm=12.0, hole_extra_mm=0.2)
    feature = Dowels(name="D", diameter_mm=5.0, gap_mm=0.1, height_mm=4.0)
    halves = {k: exported(h) for k, h in halves_with(site, feature).items()}
    z = site.parting_z_mm
    for joint in joints(site, feature).joints:
        place = (joint.figures["x_mm"], joint.figures["y_mm"])
        pin, _ = bore_at(halves["lower"], place, z + 1.0)
        socket, _ = bore_at(halves["upper"], place, z + 1.0)
        assert pin == pytest.approx(5.0, abs=0.02)
        # Room on both sides, and what this printer's holes come out too small.
        assert socket == pytest.approx(5.0 + 2 * 0.1 + 0.2, abs=0.02)
        assert joint.figures["socket_mm"] == pytest.approx(socket, abs=0.02)
        assert not loops(halves["lower"], (0, 0, z + 4.1), UP)
        assert bore_at(halves["upper"], place, z + 4.3)[0] == pytest.approx(socket, abs=0.02)


def test_two_dowels_do_not_let_the_halves_turn_round() -> None:
    """Turned by half a turn the pins would meet material, unless the housing itself is symmetric."""
    site = block_site(room_mm=12.0)
    spots = np.array([[j.figures["x_mm"], j.figures["y_mm"]] for j in joints(site, Dowels(name="D")).joints])
    assert np.linalg.norm(spots[0] - spots[1]) > 0.7 * np.linalg.norm(np.ptp(site.outer_mm[:, :2], axis=0))


def test_steel_pins_are_bought_and_both_halves_bored() -> None:
    site = block_site(room_mm=12.0)
    outer = site.outer_mm + np.array([[0, 0, -6], [0, 0, 6]])
    site = replace(site, outer_mm=outer, form=Solid.box(outer[0], outer[1]))
    feature = Dowels(name="D", pins="steel", diameter_mm=4.0, height_mm=6.0)
    work = joints(site, feature)
    assert [(b.count, b.what, b.standard) for b in work.bill] == [(2, "parallel pin 4 x 12", "ISO 2338")]
    halves = halves_with(site, feature)
    for joint in work.joints:
        x, y = joint.figures["x_mm"], joint.figures["y_mm"]
        pin = Solid.rod((x, y, site.parting_z_mm - 6), (x, y, site.parting_z_mm + 6), 2.0)
        assert (halves["upper"] & pin).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        assert (halves["lower"] & pin).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        assert pin.min_gap(halves["upper"], 1.0) == pytest.approx(0.1, abs=0.012)


def test_screws_lip_and_dowels_together() -> None:
    site = block_site()
    features = (
        Screws(name="S", size="M2.5"),
        Dowels(name="D", diameter_mm=3.0, height_mm=3.0),
        Lip(name="L"),
    )
    works = build_features(features, site)
    assert set(works.made) == {"S", "D", "L"}
    assert "features-collide" not in {f.code for f in works.findings}
    halves = halves_with(site, *features)
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    assert halves["lower"].above(site.parting_z_mm + 0.3).min_gap(halves["upper"], 1.0) >= 0.09


@pytest.mark.parametrize(
    ("wish", "word"),
    [
        ({"pins": "steel", "diameter_mm": 4.5}, "Steel pins are"),
        ({"height_mm": 20.0}, "too low"),
        ({"places_mm": ((0.0, 0.0),)}, "drag it elsewhere"),
    ],
)
def test_what_cannot_be_is_one_sentence(wish: dict[str, Any], word: str) -> None:
    works = build_features((Dowels(name="D", **wish),), block_site(room_mm=12.0))
    assert works.made == {}
    assert word in works.findings[0].message


def test_thin_printed_pins_are_warned_of() -> None:
    """Under 3 mm (arti90.com, layer-one.com.au; check-values 4a)."""
    for wide, warned in ((2.9, True), (3.0, False)):
        found = build_features((Dowels(name="D", diameter_mm=wide),), block_site(room_mm=12.0)).findings
        assert ("dowel-thin" in {f.code for f in found}) == warned


def test_a_dragged_dowel_stays() -> None:
    site = block_site(room_mm=12.0)
    handle = joints(site, Dowels(name="D")).handles[1]
    to = np.array(handle.at_mm) + np.array([-1.0, -2.0, 3.0])
    moved = joints(site, Dowels(name="D").moved(handle.key, to, site.parting_z_mm))
    assert moved.joints[1].figures["x_mm"] == pytest.approx(to[0], abs=1e-3)
    assert moved.handles[0].at_mm == pytest.approx(joints(site, Dowels(name="D")).handles[0].at_mm, abs=1e-3)
