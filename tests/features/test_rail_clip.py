"""The rail clip: a rail's section goes in and stays; the spring's strain by beam theory."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.opening import FRAMES
from housingdesk.features.rail_clip import RailClip, Spring
from housingdesk.features.wireway import Wireway
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.standards.plastics import plastics
from housingdesk.standards.rails import rails
from tests.features.sites import block_site, halves_with
from tests.features.slices import exported, loops

ROOM = {"room_mm": 12.0}


def rail_section(seat_mm: float, shift_mm: float = 0.0) -> Outline:
    """A top hat: edges 1 thick against the seat, hollow 27 wide behind (IEC 60715, from memory)."""
    r = rails()["TH 35-7.5"]
    w, h, t = r.width_mm / 2, r.height_mm, r.thickness_mm
    s = r.hollow_mm / 2
    hat = Outline.polygon(
        [(-w, 0), (-s + t, 0), (-s + t, h - t), (s - t, h - t), (s - t, 0), (w, 0), (w, t), (s, t), (s, h),
         (-s, h), (-s, t), (-w, t)]
    )  # fmt: skip
    return hat.moved((shift_mm, seat_mm))


def as_rail(side: Any, face_mm: float, seat_mm: float) -> Solid:
    frame = FRAMES[side]
    turn = np.eye(4)
    turn[:3, :3] = np.array([frame.u, frame.out, [0.0, 0.0, 1.0]]).T
    turn[:3, 3] = face_mm * frame.out
    return Solid.prism(rail_section(seat_mm), -60.0, 60.0).moved(turn)


def test_all_of_the_rails_figures_are_marked_as_memory() -> None:
    row = rails()["TH 35-7.5"]
    assert row.width_mm == 35.0
    assert all(source.from_memory for _, source in row.provenance)


@pytest.mark.parametrize("side", ["back", "front", "left", "right"])
def test_a_rail_lies_in_its_hooks_and_cannot_come_off(side: Any) -> None:
    site = block_site(**ROOM)
    clip = RailClip(name="c", side=side, play_mm=0.2)
    lower = halves_with(site, clip)["lower"]
    figures = clip.build(site).joints[0].figures
    face = float(np.abs(site.outer_mm[0] @ FRAMES[side].out))
    seat = figures["standoff_mm"]
    rail = as_rail(side, face, seat + 0.01)
    assert (lower & rail).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    pulled = rail.shifted(0.6 * FRAMES[side].out)
    assert (lower & pulled).volume_mm3 > 5.0  # both hooks hold it
    pushed = rail.shifted(-0.3 * FRAMES[side].out)
    assert (lower & pushed).volume_mm3 > 1.0  # it rests on its seats


def test_the_hooks_are_35_mm_apart_and_the_play() -> None:
    site = block_site(**ROOM)
    clip = RailClip(name="c", play_mm=0.3)
    lower = halves_with(site, clip)["lower"]
    figures = clip.build(site).joints[0].figures
    y = 27.4 + figures["standoff_mm"] + 0.6  # back face of the block: 12 + 1 + 2.4 + 12
    xs = np.vstack(list(loops(lower, (0, y, 0), (0, 1, 0))))[:, 0]
    opening = xs[xs > 0].min() - xs[xs < 0].max()
    assert opening == pytest.approx(35.3, abs=0.01)
    assert figures["opening_mm"] == pytest.approx(35.3)
    # The hooks reach 1.5 behind each edge.
    behind = np.vstack(list(loops(lower, (0, y + 1.1, 0), (0, 1, 0))))[:, 0]
    assert behind[behind > 0].min() - behind[behind < 0].max() == pytest.approx(35.3 - 3.0, abs=0.05)


def test_it_stands_on_the_bed_without_overhangs() -> None:
    lower = halves_with(block_site(**ROOM), RailClip(name="c"))["lower"]
    mesh = exported(lower)
    outside = mesh.triangles_center[:, 1] > 27.5
    assert outside.any()
    level = np.abs(mesh.face_normals[outside, 2])
    assert ((level < 1e-9) | (level > 1 - 1e-9)).all()
    down = outside & (mesh.face_normals[:, 2] < -0.5)
    assert (mesh.triangles_center[down, 2] < -3.39).all()
    assert len(lower.bodies()) == 1


def test_the_spring_bends_as_beam_theory_says() -> None:
    spring = Spring(length_mm=25.0, thick_mm=2.0, wide_mm=10.0, arm_mm=8.0, lift_mm=1.6)
    # A moment all along: turn = M L / (E I), strain = M h / (2 E I), numbers by hand.
    e, i = 3.0e3, 10.0 * 8.0 / 12.0
    moment = e * i * (1.6 / 8.0) / 25.0
    assert spring.strain == pytest.approx(moment * 2.0 / (2 * e * i))
    assert spring.force_n(3.0) == pytest.approx(moment / 8.0)
    # The end of a beam bent to a circle: R (1 - cos turn) = L turn / 2 for small turns.
    radius = 25.0 / 0.2
    assert spring.sway_mm == pytest.approx(radius * (1 - math.cos(0.2)), rel=0.01)


def test_the_spring_has_room_to_give_way() -> None:
    site = block_site(**ROOM)
    clip = RailClip(name="c")
    lower = halves_with(site, clip)["lower"]
    # Behind the spring's end a bar as thick as its sway fits between it and the housing.
    spring = Spring(27.2, 2.0, 11.4, 7.5, 1.6)
    bar = Solid.box(np.array([-26.0, 27.41, -3.0]), np.array([-10.0, 27.4 + spring.sway_mm, 5.0]))
    assert (lower & bar).volume_mm3 == 0.0


@pytest.mark.parametrize(("material", "spring_mm", "severity"), [("PLA", 2.0, "pass"), ("PLA", 6.0, "fail")])
def test_strain_is_judged_by_the_plastic(material: str, spring_mm: float, severity: str) -> None:
    # Permissible strain of printed PLA 2 to 3 % (filamentfeed.com)
    assert plastics()["PLA"].strain_pct is not None
    said = {
        f.code: f for f in RailClip(name="c", spring_mm=spring_mm).build(
            block_site(material=material, **ROOM)).findings
    }  # fmt: skip
    assert said["rail-clip-strain"].severity == severity
    assert "from memory" in said["rail-clip-size"].message


def test_refused_in_words_and_proposed_where_the_root_stands() -> None:
    with pytest.raises(SpecError, match="no face"):
        RailClip(name="c", across_mm=60.0).build(block_site())
    with pytest.raises(SpecError, match="parting plane"):
        RailClip(name="c", wide_mm=30.0).build(block_site())
    narrow = block_site()
    first = RailClip.proposed(narrow)
    assert first is not None
    assert len(halves_with(narrow, first.model_copy(update={"name": "c"}))["lower"].bodies()) == 1


def test_a_bulge_beside_the_root_leaves_the_spring_its_room() -> None:
    site = block_site(**ROOM)
    bulge = Solid.box(np.array([-30.0, 20.0, -3.4]), np.array([0.0, 31.0, 19.4]))
    bulgy = block_site(form=site.form | bulge, **ROOM)
    clip = RailClip(name="c")
    lower = halves_with(bulgy, clip)["lower"]
    # The same room behind the spring as beside a flat side, measured from the bulge's face at 31.
    spring = Spring(27.2, 2.0, 11.4, 7.5, 1.6)
    bar = Solid.box(np.array([-26.0, 31.01, -3.0]), np.array([9.0, 31.0 + spring.sway_mm, 5.0]))
    assert (lower & bar).volume_mm3 == 0.0
    rail = as_rail("back", 31.0, clip.build(bulgy).joints[0].figures["standoff_mm"] + 0.01)
    assert (lower & rail).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    assert len(lower.bodies()) == 1


def test_it_does_not_run_into_a_wireway_on_its_side() -> None:
    site = block_site(**ROOM)
    wire = Wireway(name="wire", side="back", relief="labyrinth", wire_mm=2.0)
    built = build_features((wire, RailClip(name="clip")), site)
    # The labyrinth lies within the thick wall here, so nothing stands out and the clip has its place.
    assert set(built.made) == {"wire", "clip"}
    thin = block_site(room_mm=2.0)
    blocked = build_features((Wireway(name="wire", relief="labyrinth"), RailClip(name="clip")), thin)
    assert "clip" not in blocked.made
    assert any("stands where the rail" in f.message for f in blocked.findings)
