"""The proof of screws measures the halves: spoiled holes are found though the design is right."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.lip import Lip
from housingdesk.features.records import Fastener
from housingdesk.features.screws import Screws
from housingdesk.features.site import Site
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.proof.fasteners import Slices, as_measured, screws
from housingdesk.proof.joints import clear
from housingdesk.proof.subject import Subject
from tests.features.sites import block_site, halves_with

WISHES: list[dict[str, Any]] = [
    {},
    {"holds": "printed threads"},
    {"holds": "nuts dropped in"},
    {"holds": "nuts outside"},
    {"head": "countersunk"},
    {"seat": "proud", "head": "button"},
    {"head_from": "below"},
    {"size": "M2", "holds": "printed threads", "head_from": "below", "head": "countersunk"},
]


def subject_of(site: Site, halves: dict[str, Solid], *features: Any) -> Subject:
    works = build_features(features, site)
    z = site.parting_z_mm
    return Subject(
        parts=tuple(site.parts.values()),
        halves={side: half.mesh() for side, half in halves.items()},  # type: ignore[misc]  # the two sides
        parting_z_mm=z,
        outer_mm=site.outer_mm,
        clearance_mm=site.clearance_mm,
        wall_mm=site.wall_mm,
        relief_mm3={"lower": 0.0, "upper": 0.0},
        overlap_mm3=0.0,
        bodies={"lower": 1, "upper": 1},
        fasteners=tuple(f for w in works.made.values() for f in w.fasteners),
        across=tuple(
            s.bounds
            for w in works.made.values()
            for group in w.add.values()
            for s in group
            if not s.is_empty and s.bounds[0, 2] < z < s.bounds[1, 2]
        ),
    )


def proved(subject: Subject) -> list[Finding]:
    return list(screws(subject, None))  # type: ignore[arg-type]  # this check measures for itself


@pytest.mark.parametrize("wish", WISHES)
def test_what_is_measured_is_what_was_designed(wish: dict[str, Any]) -> None:
    site = block_site(room_mm=12.0)
    feature = Screws(name="S", **wish)
    halves = halves_with(site, feature)
    subject = subject_of(site, halves, feature)
    slices = Slices(subject.halves)
    for designed in subject.fasteners:
        found = as_measured(designed, slices, subject.parting_z_mm)
        for field in ("clear_hole_mm", "pilot_or_insert_hole_mm", "head_hole_mm", "head_depth_mm"):
            assert getattr(found, field) == pytest.approx(getattr(designed, field), abs=0.02), field
        assert found.least_wall_mm >= designed.least_wall_mm - 0.02
    (finding,) = proved(subject)
    assert (finding.code, finding.severity) == ("screws", "pass")
    assert finding.message.startswith(f"4 × {feature.size} ×")


@pytest.mark.parametrize(
    ("holds", "into", "sizes"),
    [
        # M3: ISO 273 medium 3.4, heat-set insert 4.0; a printed thread's hole by the plastic's rule.
        ("heat-set inserts", "inserts", "holes of 3.60 mm for the screw and 4.20 mm for the insert"),
        ("printed threads", "printed threads", "holes of 3.60 mm for the screw and "),
        ("nuts outside", "nuts outside", "holes of 3.60 mm for the screw (as"),
    ],
)
def test_each_hole_is_named_with_what_the_printer_makes_of_it(holds: str, into: str, sizes: str) -> None:
    site = block_site(room_mm=12.0, hole_extra_mm=0.2)
    feature = Screws(name="S", size="M3", holds=holds)  # type: ignore[arg-type]  # one of them
    (finding,) = proved(subject_of(site, halves_with(site, feature), feature))
    assert f"into {into}: {sizes}" in finding.message
    assert "(as the printer makes holes smaller, 3.40 mm" in finding.message
    if holds == "heat-set inserts":
        assert "3.40 mm and 4.00 mm once printed), " in finding.message
        bought = [line.what for w in build_features((feature,), site).made.values() for line in w.bill]
        assert any("for a printed hole of 4 mm" in what for what in bought)


def spoil(halves: dict[str, Solid], f: Fastener, how: str) -> dict[str, Solid]:
    (x, y, seat), (_, _, tip) = f.axis_mm
    out = dict(halves)
    if how == "filled":
        out["lower"] = halves["lower"] | Solid.rod((x, y, tip - 0.5), (x, y, seat - f.length_mm + 5.0), 3.0)
    elif how == "wider":
        out["upper"] = halves["upper"] - Solid.rod((x, y, 8.0), (x, y, seat), f.clear_hole_mm / 2 + 0.1)
    elif how == "deeper":
        out["upper"] = halves["upper"] - Solid.rod((x, y, seat - 0.2), (x, y, seat + 9), f.head_hole_mm / 2)
    elif how == "thin":
        gap = np.array([x + f.head_hole_mm / 2 + 0.3, y - 1, -50.0])
        out["upper"] = halves["upper"] - Solid.box(gap, gap + np.array([0.3, 2.0, 100.0]))
    elif how == "torn":
        out["upper"] = halves["upper"] - Solid.box(
            np.array([x, y - 0.5, 8.0]), np.array([x + 5, y + 0.5, seat])
        )
    elif how == "open":
        out["upper"] = halves["upper"] - Solid.box(
            np.array([x - 60, y - 0.5, 8.0]), np.array([x, y + 0.5, seat])
        )
    return out


@pytest.mark.parametrize(
    ("how", "word"),
    [
        ("filled", "thread's hole"),
        ("wider", "its hole measures"),
        ("deeper", "depth of its head"),
        ("thin", "of material beside it"),
        ("open", "its hole measures"),
        ("torn", "of material beside it"),
    ],
)
def test_a_spoiled_screw_is_found(how: str, word: str) -> None:
    site = block_site(room_mm=12.0)
    feature = Screws(name="S", holds="printed threads")
    halves = halves_with(site, feature)
    good = subject_of(site, halves, feature)
    bad = spoil(halves, good.fasteners[0], how)
    found = proved(replace(good, halves={side: half.mesh() for side, half in bad.items()}))
    fails = [f for f in found if f.severity == "fail"]
    assert len(fails) == 1
    assert word in fails[0].message
    assert fails[0].where_mm is not None
    assert fails[0].where_mm[:2] == pytest.approx(good.fasteners[0].axis_mm[0][:2])
    assert [f.message[0] for f in found if f.severity == "pass"] == ["3"]


def test_a_lip_in_a_groove_without_room_is_found() -> None:
    site = block_site()
    features = (Lip(name="L", gap_mm=0.2),)
    halves = halves_with(site, *features)
    good = subject_of(site, halves, *features)
    (finding,) = clear(good, None)  # type: ignore[arg-type]  # this check measures for itself
    assert finding.severity == "pass"
    assert "0.2" in finding.message
    tight = halves["upper"].shifted((0.19, 0, 0))
    bad = replace(good, halves={**good.halves, "upper": tight.mesh()})
    (finding,) = clear(bad, None)  # type: ignore[arg-type]  # as above
    assert finding.severity == "fail"
    assert not list(clear(replace(good, across=()), None))  # type: ignore[arg-type]  # as above


def test_a_lip_drawn_thicker_for_a_printer_is_judged_as_printed() -> None:
    """Room of 0.2 a side, of which outsides 0.36 too small take 0.18 in the file; printed it is there."""
    site, off = block_site(outside_extra_mm=0.36), 0.36
    features = (Lip(name="L", gap_mm=0.2),)
    drawn = replace(subject_of(site, halves_with(site, *features), *features), outside_extra_mm=off)
    (finding,) = clear(drawn, None)  # type: ignore[arg-type]  # as above
    assert finding.severity == "pass"
    assert "keeps 0.03 mm" in finding.message
    assert "drawn for outsides that come out 0.36 mm too small" in finding.message
    (finding,) = clear(replace(drawn, outside_extra_mm=0.0), None)  # type: ignore[arg-type]  # as above
    assert finding.severity == "fail"
