"""Washers ISO 7089 where a nut or a proud head lies on plastic: bought, part of the length, kept free."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.ears import Ears
from housingdesk.features.fixing_holes import FixingHoles
from housingdesk.features.flange import Flange
from housingdesk.features.screws import Screws
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Solid
from tests.features.board import board_site
from tests.features.sites import block_site, halves_with
from tests.features.test_screws import work_of

# ISO 7089: outside and thickness, check-values 1a (R); ISO 4032 height, ISO 261 pitch (R2).
WASHER = {"M2": (5.0, 0.3), "M3": (7.0, 0.5), "M4": (9.0, 0.8), "M5": (10.0, 1.0), "M6": (12.0, 1.6)}
NUT_HIGH = {"M2": 1.6, "M3": 2.4, "M4": 3.2, "M5": 4.7, "M6": 5.2}
PITCH = {"M2": 0.4, "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0}


def tall_site(**more: Any) -> Site:
    """A block 38.8 mm high with room for every size around it."""
    site = block_site(room_mm=14.0)
    outer = np.array([site.outer_mm[0] - [0, 0, 8], site.outer_mm[1] + [0, 0, 8]])
    return replace(site, outer_mm=outer, form=Solid.box(outer[0], outer[1]), **more)


def bought(work: Work) -> dict[tuple[str, str], int]:
    return {(line.what, line.standard): line.count for line in work.bill}


@pytest.mark.parametrize(
    ("holds", "head", "seat", "each"),
    [
        ("nuts outside", "cap", "sunk", 1),
        ("nuts outside", "cap", "proud", 2),
        ("nuts outside", "countersunk", "sunk", 1),
        ("heat-set inserts", "cap", "proud", 1),
        ("heat-set inserts", "button", "proud", 1),
        ("heat-set inserts", "cap", "sunk", 0),
        ("heat-set inserts", "countersunk", "proud", 0),
        ("nuts dropped in", "cap", "sunk", 0),
    ],
)
def test_washers_under_proud_heads_and_outer_nuts_only(holds: Any, head: Any, seat: Any, each: int) -> None:
    work = work_of(tall_site(), Screws(name="S", holds=holds, head=head, seat=seat))
    assert bought(work).get(("plain washer M3", "ISO 7089"), 0) == 4 * each


@pytest.mark.parametrize("size", list(WASHER))
def test_washers_lie_on_plastic_and_the_screw_passes_nut_and_both_washers(size: Any) -> None:
    site = tall_site()
    feature = Screws(name="S", size=size, holds="nuts outside", seat="proud")
    halves = halves_with(site, feature)
    outside, high = WASHER[size]
    for f in work_of(site, feature).fasteners:
        (x, y, seat), (_, _, tip) = f.axis_mm
        top, bottom = site.outer_mm[1, 2], site.outer_mm[0, 2]
        assert seat == pytest.approx(top + high, abs=1e-6), "the head lies on its washer"
        assert f.head_depth_mm == 0.0
        assert bottom - tip >= high + NUT_HIGH[size] + PITCH[size] - 1e-6, "a thread stands out of the nut"
        for half, low in ((halves["upper"], top - 0.5), (halves["lower"], bottom)):
            ring = Solid.rod((x, y, low), (x, y, low + 0.5), outside / 2 - 0.01) - Solid.rod(
                (x, y, low), (x, y, low + 0.5), f.clear_hole_mm / 2 + 0.1
            )
            assert (ring - half).volume_mm3 == pytest.approx(0.0, abs=1e-3), "all of it lies on material"


def test_no_washer_of_one_screw_lies_in_anothers_room() -> None:
    work = work_of(tall_site(), Screws(name="S", holds="nuts outside", seat="proud"))
    for f in work.fasteners:
        x, y, seat = f.axis_mm[0]
        under_head = Solid.rod((x, y, seat - 0.5), (x, y, seat), 3.49)
        assert any((body & under_head).volume_mm3 > 0.99 * under_head.volume_mm3 for body in work.keep_out)


@pytest.mark.parametrize("feature", [Ears(name="E"), Flange(name="E")])
def test_mounts_name_a_washer_for_each_screw(feature: Any) -> None:
    work = feature.build(block_site())
    count = len(work.cut["lower"])
    assert bought(work) == {
        ("screw M4, as long as what it stands on asks", ""): count,
        ("plain washer M4", "ISO 7089"): count,
    }


def test_screws_of_the_part_have_washers_and_are_so_much_longer() -> None:
    work = FixingHoles(name="f").build(board_site())
    assert bought(work) == {
        ("socket head cap screw M3 x 8", "ISO 4762"): 4,
        ("plain washer M3", "ISO 7089"): 4,
    }


def test_a_line_of_an_insert_says_which_hole_it_is_for() -> None:
    work = work_of(tall_site(hole_extra_mm=0.2), Screws(name="S", holds="heat-set inserts"))
    assert ("heat-set insert M3, 5.7 mm long, for a printed hole of 4 mm", "") in bought(work)


def test_whatever_fits_still_finds_something_for_a_flat_block() -> None:
    works = build_features((Screws(name="S"),), block_site(parting_z_mm=2.0))
    assert "S" in works.made
