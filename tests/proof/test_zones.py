"""Gaps by zone, contacts made on purpose, and the way in: against figures of made-up boxes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.features.records import Contact
from housingdesk.features.site import Region
from housingdesk.finding import Finding
from housingdesk.geometry.types import Ints
from housingdesk.proof.checks import prove
from housingdesk.proof.facts import ZoneFacts
from housingdesk.proof.subject import Subject
from tests.proof.halves import block, both, boxed, common, mesh, minus, subject


def by_name(housing: Subject) -> dict[str, ZoneFacts]:
    return {z.name: z for z in prove(housing).zones}


def finding(housing: Subject, code: str) -> Finding:
    return next(f for f in prove(housing).findings if f.code == code)


def faces_at(housing: Subject, axis: int, value: float) -> Ints:
    part = housing.parts[0]
    return (np.abs(part.vertices[part.faces][:, :, axis] - value) < 1e-9).all(axis=1).astype(np.int32) - 1


def with_end(gap: float, asked: float) -> Subject:
    """The block with 1 mm all round and another gap about its right end."""
    part = block([-10, -15, 0], [10, 15, 15])
    around = block([-11, -16, -1], [11, 16, 16])
    end = block([10 - gap, -15 - gap, -gap], [10 + gap, 15 + gap, 15 + gap])
    far = 3.0 + gap
    housing = subject(
        part,
        both(around, end),
        [[-14, -15 - far, -far], [10 + far, 15 + far, 15 + far]],
        parting=7.0,
        clearance=1.0,
        wall=2.0,
    )
    return replace(
        housing,
        zones=(Region("body", "held", 1.0), Region("far end", "held", asked)),
        face_zone=faces_at(housing, 0, 10.0),
    )


def test_each_zone_is_measured_and_judged_for_itself() -> None:
    housing = with_end(gap=2.0, asked=2.0)
    zones = by_name(housing)
    assert list(zones) == ["body", "far end"]
    assert zones["body"].min_gap_mm == pytest.approx(1.0, abs=1e-6)
    assert zones["body"].median_gap_mm == pytest.approx(1.0, abs=1e-6)
    assert zones["body"].max_gap_mm == pytest.approx(2.0, abs=0.01)
    end = zones["far end"]
    assert (end.min_gap_mm, end.median_gap_mm, end.max_gap_mm) == pytest.approx((2, 2, 2), abs=1e-6)
    assert end.min_gap_at_mm[0] == pytest.approx(10)
    assert (end.purpose, end.clearance_mm, len(end.below_mm)) == ("held", 2.0, 0)
    assert finding(housing, "zone-far-end").severity == "pass"


def test_a_zone_that_gets_more_room_than_asked_is_told() -> None:
    housing = with_end(gap=2.0, asked=1.5)
    wide = finding(housing, "zone-far-end")
    assert wide.severity == "caution" and wide.remedy and "along on its way in" in wide.message
    meant = replace(housing, zones=(housing.zones[0], Region("far end", "held", 1.5, end_mm=0.5)))
    assert finding(meant, "zone-far-end").severity == "pass"  # room at its ends was asked besides


def test_a_zone_with_less_room_than_asked_fails_with_its_places() -> None:
    housing = with_end(gap=2.0, asked=2.5)
    short = finding(housing, "zone-far-end")
    assert short.severity == "fail"
    assert "2.00 mm at the tightest" in short.message
    assert "2.50 mm asked" in short.message
    assert "far end" in short.remedy
    assert finding(housing, "zone-body").severity == "pass"
    below = by_name(housing)["far end"].below_mm
    assert len(below) > 10
    assert np.allclose(below[:, 0], 10)


def test_what_is_outside_the_housing_has_no_gap() -> None:
    # A square shaft of 8 mm in a hole of 9 mm, 20 mm long; the wall ends 3 mm from the body.
    body, shaft = block([-10, -15, 0], [10, 15, 15]), block([9, -4, 3], [30, 4, 11])
    cavity = both(block([-11, -16, -1], [11, 16, 16]), block([9, -4.5, 2.5], [40, 4.5, 11.5]))
    housing = subject(
        both(body, shaft), cavity, [[-13, -18, -3], [13, 18, 18]], parting=7.0, clearance=0.5, wall=2.0
    )
    part = housing.parts[0]
    is_shaft = (part.vertices[part.faces][:, :, 0] > 9.5).all(axis=1) & (
        np.abs(part.vertices[part.faces][:, :, 1]) < 4.1
    ).all(axis=1)
    # the flat of the body around the shaft has corners beyond 4.1 in y, so it is not among these
    zones = (Region("body", "held", 0.5), Region("shaft", "turning", 0.5))
    found = by_name(replace(housing, zones=zones, face_zone=is_shaft.astype(np.int32) - 1))["shaft"]
    assert found.min_gap_mm == pytest.approx(0.5, abs=1e-6)
    assert found.median_gap_mm == pytest.approx(0.5, abs=1e-6)
    # inside the body's own gap the hole's rim is at most hypot(1, 0.5) away; the tip would be 17 mm away
    assert found.max_gap_mm <= np.hypot(1, 0.5) + 1e-6


def test_faces_in_the_open_count_for_the_least_gap_alone() -> None:
    # A bar of 8 mm in a hole of 9, and its end 10 mm before the wall's outer face: it looks out of the mouth.
    body, bar = block([-10, -15, 0], [10, 15, 15]), block([9, -4, 3], [20, 4, 11])
    cavity = both(block([-11, -16, -1], [11, 16, 16]), block([9, -4.5, 2.5], [40, 4.5, 11.5]))
    housing = subject(
        both(body, bar), cavity, [[-13, -18, -3], [30, 18, 18]], parting=7.0, clearance=0.5, wall=2.0
    )
    part = housing.parts[0]
    end = (part.vertices[part.faces][:, :, 0] > 19.9).all(axis=1)
    is_bar = (np.abs(part.vertices[part.faces][:, :, 1]) < 4.1).all(axis=1) & (
        part.vertices[part.faces][:, :, 0] > 9.5
    ).all(axis=1)
    zones = (Region("body", "held", 0.5), Region("bar", "turning", 0.5))
    found = by_name(replace(housing, zones=zones, face_zone=is_bar.astype(np.int32) - 1))["bar"]
    assert (found.min_gap_mm, found.median_gap_mm) == pytest.approx((0.5, 0.5), abs=1e-6)
    assert found.max_gap_mm <= np.hypot(1, 0.5) + 1e-6  # not the 4.5 mm from the middle of its end
    # A zone of nothing else has these figures.
    only = by_name(replace(housing, zones=zones, face_zone=end.astype(np.int32) - 1))["bar"]
    assert only.max_gap_mm == pytest.approx(4.5, abs=0.1)


def test_a_zone_wholly_outside_is_said() -> None:
    housing = boxed(1.0)
    low, _ = housing.outer_mm
    away = replace(
        housing,
        zones=(Region("body", "held", 1.0),),
        face_zone=np.full(12, -1, np.int32),
        form=mesh(block(low - 20, low - 10)),
    )
    assert finding(away, "zone-body").severity == "caution"


def bumped() -> Subject:
    """The block housed with 1 mm; a knob of the lower half's floor stands 0.1 mm into it."""
    housing = boxed(1.0)
    lower = common(
        minus(block(*housing.outer_mm), block([-11, -16, -1], [11, 16, 16])),
        block(housing.outer_mm[0], [*housing.outer_mm[1][:2], 7.0]),
    )
    knob = block([-0.5, -0.5, -1.5], [0.5, 0.5, 0.1])
    return replace(
        housing,
        halves=housing.halves | {"lower": mesh(both(lower, knob))},
        zones=(Region("body", "held", 1.0),),
        face_zone=np.full(12, -1, np.int32),
    )


def test_contacts_on_purpose_are_left_out_and_only_they() -> None:
    housing = bumped()
    codes = ("gap-lower", "zone-body", "interference-lower", "goes-in-lower")
    assert {finding(housing, c).severity for c in codes} == {"fail"}
    # part and knob come nearer than 1 mm within hypot(0.5, 0.5) + 1 of the knob's middle
    right = replace(housing, contacts=(Contact((0.0, 0.0, 0.0), 1.75, 0.1, (0.0, 0.0, -1.0)),))
    proof = prove(right)
    assert {f.severity for f in proof.findings if f.code in codes} == {"pass"}
    assert proof.halves["lower"].min_gap_mm == pytest.approx(1.0, abs=0.01)
    assert proof.halves["lower"].clear
    small = replace(housing, contacts=(Contact((0.0, 0.0, 0.0), 0.8, 0.1, (0.0, 0.0, -1.0)),))
    assert {finding(small, c).severity for c in ("gap-lower", "zone-body")} == {"fail"}


def test_material_that_is_kept_on_purpose_is_a_caution() -> None:
    good = boxed(1.0)
    bulge = block([10.5, -15, 5.5], [12, 15, 6.5])  # over the block's right edge, at 0.5 mm beside it
    lower = both(
        common(
            minus(block(*good.outer_mm), block([-11, -16, -1], [11, 16, 16])),
            block(good.outer_mm[0], [*good.outer_mm[1][:2], 7.0]),
        ),
        bulge,
    )
    narrow = replace(good, halves=good.halves | {"lower": mesh(lower)})
    assert finding(narrow, "goes-in-lower").severity == "fail"
    assert not prove(narrow).halves["lower"].clear
    kept = replace(narrow, kept=("lower",))
    said = finding(kept, "goes-in-lower")
    assert said.severity == "caution"
    assert "kept" in said.message
    assert said.remedy
    assert not prove(kept).halves["lower"].clear
    assert finding(kept, "goes-in-upper").severity == "pass"
