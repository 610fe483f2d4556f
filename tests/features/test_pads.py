"""Pads on the block: what they hold, what they need, and what has to be bought."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.pads import FLUSH_MM, Pads, usual_thickness
from housingdesk.geometry.freedom import Play
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES
from housingdesk.proof.play import measure_play
from tests.features.sites import PART_HIGH, PART_LOW, block_site, halves_with

PART = Solid.box(PART_LOW, PART_HIGH)


def played(pads: Pads, clearance: float) -> Play:
    site = block_site(clearance_mm=clearance)
    work = pads.build(site)
    soft = [s.mesh() for side in SIDES for s in work.soft[side]]
    halves = [halves_with(site, pads)[side].mesh() for side in SIDES]
    middle, axis = np.array([0, 0, 8.0]), np.array([0, 0, 1.0])
    return measure_play(PART.mesh(), halves, middle, axis, work.contacts, soft)


def test_foam_takes_the_play_of_its_direction_only() -> None:
    found = played(Pads(name="P", hold="up and down", thick_mm=1.5), 1.0)
    assert found.z_mm == pytest.approx((0, 0), abs=2 * FLUSH_MM)
    # closed form: a box in a box moves by its gaps
    assert found.x_mm == pytest.approx((1.0, 1.0), abs=1e-6)
    assert found.y_mm == pytest.approx((1.0, 1.0), abs=1e-6)


def test_tape_leaves_what_it_does_not_fill() -> None:
    found = played(Pads(name="P", hold="all round", stuff="tape", thick_mm=0.7), 1.0)
    for pair in (found.x_mm, found.y_mm, found.z_mm):
        assert pair == pytest.approx((0.3, 0.3), abs=1e-6)


def test_pads_are_not_printed() -> None:
    site = block_site()
    bare, padded = halves_with(site), halves_with(site, Pads(name="P", thick_mm=1.5))
    for side in SIDES:
        assert padded[side].volume_mm3 == bare[side].volume_mm3


def test_pads_lie_in_the_gap_and_are_on_the_bill() -> None:
    site = block_site()
    work = Pads(name="P", hold="all round", count=2, thick_mm=1.5, length_mm=6, width_mm=4).build(site)
    pads = [s for side in SIDES for s in work.soft[side]]
    assert len(pads) == 12
    for pad in pads:
        assert (pad & PART).volume_mm3 == 0
        assert pad.volume_mm3 >= 6 * 4 * (1.0 - FLUSH_MM)
    assert sum(line.count for line in work.bill) == 12
    assert "6 x 4, 1.5 mm thick" in work.bill[0].what
    # every pad's own footprint on the part is within its contacts
    for pad in pads:
        near = pad.mesh().vertices
        on_part = near[np.abs(near - np.clip(near, PART_LOW, PART_HIGH)).max(axis=1) < 0.01]
        centres = np.array([c.centre_mm for c in work.contacts])
        away = np.linalg.norm(on_part[:, None] - centres, axis=2)
        assert (away <= np.array([c.radius_mm for c in work.contacts])).any(axis=1).all()


def test_odds_get_pads_only_with_a_measured_thickness_and_it_is_said() -> None:
    site = block_site(clearance_mm=1.0)
    pads = Pads(name="P", hold="up and down", thick_mm=1.5)
    unknown = pads.build(site)
    assert unknown.cushions == ()
    assert "not counted" in unknown.findings[0].message
    known = pads.model_copy(update={"stray_mm": 0.2}).build(site)
    assert "not counted" not in known.findings[0].message
    assert {c.out for c in known.cushions} == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)}
    assert [c.squeeze_mm for c in known.cushions] == pytest.approx([0.5] * 4, abs=1e-6)
    assert {c.stray_mm for c in known.cushions} == {0.2}


@pytest.mark.parametrize(
    ("stuff", "thick", "word"), [("foam", 6.0, "too hard"), ("felt", 1.0, "hardly"), ("tape", 1.2, "thinner")]
)
def test_a_thickness_that_does_not_go_with_the_gap_is_refused(stuff: str, thick: float, word: str) -> None:
    with pytest.raises(SpecError, match=word):
        Pads(name="P", stuff=stuff, thick_mm=thick).build(block_site())  # type: ignore[arg-type]  # by name


def test_the_proposal_goes_with_the_gap() -> None:
    assert usual_thickness(1.0) == 1.5  # squeezed to two thirds
    assert usual_thickness(0.1) is None
    pads = Pads.proposed(block_site(clearance_mm=2.0))
    assert pads is not None
    assert pads.thick_mm == 3.0
    assert pads.build(block_site(clearance_mm=2.0)).findings[0].severity == "pass"
