"""Words and mating marks that something else cuts into or covers: the proof lists the pair."""

from __future__ import annotations

from typing import Any

import pytest

from housingdesk.build.works import build_features
from housingdesk.features.access import AccessHole
from housingdesk.features.ears import Ears
from housingdesk.features.feature import Feature
from housingdesk.features.feet import Feet
from housingdesk.features.gland import GlandHole
from housingdesk.features.keyholes import Keyholes
from housingdesk.features.mark import Mark
from housingdesk.features.mating_marks import MatingMarks
from housingdesk.features.notch import Notch
from housingdesk.features.screws import Screws
from housingdesk.features.vents import Vents
from housingdesk.features.window import Window
from tests.features.sites import block_site

HAND = {"fit": "hand", "width_mm": 8.0, "tall_mm": 4.0}
WINDOW = Window(name="Other", side="front", across_mm=0.0, height_mm=8.0, **HAND)
# The other feature, the words, and where the words are out of its way.
PAIRS: list[tuple[Feature, dict[str, Any], dict[str, Any]]] = [
    (WINDOW, {"face": "front"}, {"face": "roof"}),
    (WINDOW, {"face": "front", "across_mm": 4.5}, {"face": "front", "across_mm": 12.0}),
    (Vents(name="Other", side="roof", slot_mm=6), {"face": "roof"}, {"face": "front"}),
    # Between the slots no letter is cut, and still the words are spoilt.
    (Vents(name="Other", side="roof", slot_mm=8, opening_mm=0.8, bar_mm=12, field_tall_mm=10),
     {"face": "roof", "text": "III", "height_mm": 5.0}, {"face": "front"}),
    (Keyholes(name="Other", where="in the floor", lip_mm=0.8, size="M3"),
     {"face": "floor", "across_mm": 26.0, "up_mm": -16.0}, {"face": "roof"}),
    (Feet(name="Other"), {"face": "floor", "across_mm": 29.5, "up_mm": 21.5}, {"face": "floor"}),
    (Feet(name="Other", style="standing feet"), {"face": "floor", "across_mm": 29.5, "up_mm": 21.5},
     {"face": "floor"}),
    (Screws(name="Other", count=1, places_mm=((25.0, 16.0),)),
     {"face": "roof", "across_mm": 25.0, "up_mm": 16.0}, {"face": "roof", "across_mm": -20.0, "up_mm": 0.0}),
    (Screws(name="Other", count=1, places_mm=((25.0, 16.0),), seat="proud"),
     {"face": "roof", "across_mm": 25.0, "up_mm": 16.0}, {"face": "roof", "across_mm": -20.0, "up_mm": 0.0}),
    # An ear grows over them.
    (Screws(name="Other", count=1, places_mm=((32.0, 0.0),)), {"face": "right"}, {"face": "left"}),
    (Ears(name="Other", thickness_mm=6.0), {"face": "right", "up_mm": -4.0}, {"face": "front"}),
    (GlandHole(name="Other", side="roof"), {"face": "roof", "across_mm": 8.5}, {"face": "floor"}),
    (AccessHole(name="Other", target="a place"), {"face": "roof"}, {"face": "front"}),
    (Mark(name="Other", text="MM", face="roof"), {"face": "roof", "across_mm": 2.0}, {"face": "front"}),
]  # fmt: skip


@pytest.mark.parametrize("way", ["engraved", "raised"])
@pytest.mark.parametrize(("other", "on_it", "beside"), PAIRS, ids=lambda v: getattr(v, "kind", ""))
def test_words_that_meet_another_feature_are_told_once(other: Any, on_it: Any, beside: Any, way: Any) -> None:
    # Thick floor and roof, so that keyholes and words have room; the gland wants a thinner one.
    site = block_site(room_mm=8.0, wall_mm=2.4 if other.kind == "gland" else 7.0)
    usual = {"text": "MM", "height_mm": 4.0, "way": way}
    for where, pairs in ((on_it, 1), (beside, 0)):
        mark = Mark(name="Words", **(usual | where))
        works = build_features((mark, other), site)
        assert set(works.made) == {"Words", "Other"}, works.findings
        told = [f for f in works.findings if f.code == "features-collide"]
        assert len(told) == pairs, (where, told)
        if told:
            assert "Words" in told[0].message and "Other" in told[0].message
            assert told[0].where_mm is not None and told[0].remedy
            assert told[0] in works.said["Words"] and told[0] in works.said["Other"]


def test_mating_marks_and_a_pry_notch_at_one_place_are_told() -> None:
    site = block_site(room_mm=8.0)
    marks = MatingMarks(name="Marks", face="right", across_mm=0.0)
    for y, told in ((0.0, True), (14.0, False)):
        notch = Notch(name="Notch", at_mm=(31.4, y))
        codes = [f.code for f in build_features((marks, notch), site).findings]
        assert ("features-collide" in codes) == told
