"""Knobs stay where the user put them, even where nothing can be made, so that it can be dragged back."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.access import AccessHole
from housingdesk.features.dowels import Dowels
from housingdesk.features.ears import Ears
from housingdesk.features.fixing_holes import FixingHoles
from housingdesk.features.gland import GlandHole
from housingdesk.features.hooks import Hooks
from housingdesk.features.keyholes import Keyholes
from housingdesk.features.mark import Mark
from housingdesk.features.mating_marks import MatingMarks
from housingdesk.features.notch import Notch
from housingdesk.features.rail_clip import RailClip
from housingdesk.features.ribs import Ribs
from housingdesk.features.screws import Screws
from housingdesk.features.vents import Vents
from housingdesk.features.window import Window
from housingdesk.features.wireway import Wireway
from tests.features.sites import block_site

FAR = 90.0
# Each feature cannot be made; where its knob must be (None: not looked at), where it is dragged to instead.
LOST: list[tuple[Any, tuple[float | None, float | None, float | None], tuple[float, float, float]]] = [
    (Screws(name="F", count=1, places_mm=((0.0, 0.0),)), (0.0, 0.0, None), (28.0, 0.0, 0.0)),
    (Screws(name="F", count=1, places_mm=((FAR, 5.0),)), (FAR, 5.0, None), (28.0, 0.0, 0.0)),
    (Dowels(name="F", count=1, places_mm=((0.0, 0.0),)), (0.0, 0.0, 8.0), (28.0, 0.0, 8.0)),
    (Hooks(name="F", count=1, places_mm=((FAR, FAR),)), (FAR, FAR, 8.0), (31.0, 0.0, 8.0)),
    (Window(name="F", fit="hand", across_mm=FAR), (FAR, None, None), (0.0, -23.4, 5.0)),
    (GlandHole(name="F", side="roof", across_mm=FAR), (FAR, None, None), (0.0, 0.0, 19.4)),
    (AccessHole(name="F", target="a place", across_mm=FAR), (FAR, None, None), (0.0, 0.0, 19.4)),
    (Vents(name="F", side="front", across_mm=FAR, slot_mm=4), (FAR, None, None), (0.0, -23.4, 8.0)),
    (FixingHoles(name="F", pattern="NEMA 8", across_mm=FAR), (FAR, None, None), (0.0, 0.0, -3.4)),
    (Wireway(name="F", across_mm=FAR), (None, None, 8.0), (0.0, 23.4, 8.0)),
    (Wireway(name="F", points_mm=((FAR, 0.0), (FAR, 30.0))), (FAR, 0.0, 8.0), (FAR, 1.0, 8.0)),
    (Ears(name="F", along_mm=FAR), (None, FAR, None), (-31.4, 0.0, -3.4)),
    (Keyholes(name="F", along_mm=FAR), (FAR, None, None), (0.0, 23.4, -3.4)),
    (RailClip(name="F", across_mm=FAR), (FAR, None, None), (0.0, 23.4, -3.4)),
    (Notch(name="F", at_mm=(FAR, 1.0), width_mm=60.0, depth_mm=20.0), (FAR, 1.0, 8.0), (31.4, 0.0, 8.0)),
    (Mark(name="F", text="A", across_mm=FAR), (FAR, None, None), (0.0, 0.0, 19.4)),
    (MatingMarks(name="F", across_mm=FAR), (FAR, None, 8.0), (5.0, -23.4, 8.0)),
]
UNMENDED = {"notch"}  # it is too large anywhere


@pytest.mark.parametrize(("feature", "where", "back"), LOST, ids=lambda v: getattr(v, "kind", ""))
def test_a_feature_that_cannot_be_made_keeps_its_knob(feature: Any, where: Any, back: Any) -> None:
    site = block_site(room_mm=8.0)
    works = build_features((feature,), site)
    assert works.made == {}
    handle = works.knobs["F"][0]
    for got, asked in zip(handle.at_mm, where, strict=True):
        assert asked is None or got == pytest.approx(asked)
    moved = feature.moved(handle.key, np.array(back), site.parting_z_mm)
    assert moved != feature
    way_back = feature.kind not in UNMENDED and len(getattr(feature, "points_mm", ())) < 2
    assert not way_back or build_features((moved,), site).made, build_features((moved,), site).findings


def test_a_single_rib_has_a_knob_and_ribs_all_round_have_none() -> None:
    (handle,) = Ribs(name="F", hold="at one place", x_mm=3.0).knobs(block_site())
    assert handle.at_mm == (3.0, 0.0, 0.0)
    assert Ribs(name="F").knobs(block_site()) == ()


@pytest.mark.parametrize("kind", [Screws, Dowels, Hooks])
def test_without_places_of_its_own_there_is_no_knob_to_drag(kind: Any) -> None:
    assert kind(name="F").knobs(block_site()) == ()


def test_one_screw_in_the_cavity_keeps_its_knob_and_the_others_theirs() -> None:
    site = block_site(room_mm=8.0)
    first = build_features((Screws(name="S"),), site).made["S"]
    assert len(first.handles) == 4
    dragged = Screws(name="S").moved(first.handles[1].key, np.array([1.0, 2.0, 0.0]), site.parting_z_mm)
    work = build_features((dragged,), site).made["S"]
    assert len(work.fasteners) == 3
    assert [h.at_mm[:2] for h in work.handles] == [tuple(p) for p in dragged.places_mm]
    assert work.handles[1].at_mm[:2] == (1.0, 2.0)
    # Another is dragged meanwhile: the one that cannot stand is not forgotten.
    again = dragged.moved(work.handles[0].key, np.array([-28.0, 0.0, 0.0]), site.parting_z_mm)
    assert again.places_mm == ((-28.0, 0.0), *dragged.places_mm[1:])
    assert again.count == 4


def test_a_single_place_of_many_does_not_cut_their_number() -> None:
    site = block_site(room_mm=8.0)
    feature = Screws(name="S", count=4, size="M6", length_mm=60, places_mm=((28.0, 0.0),))
    handle = build_features((feature,), site).knobs["S"][0]
    assert feature.moved(handle.key, np.array([27.0, 0.0, 0.0]), site.parting_z_mm).count == 4
