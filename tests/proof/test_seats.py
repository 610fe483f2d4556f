"""Seats as measured on finished halves: a bearing's pocket by its drawn size, and one that is spoiled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from housingdesk.features.records import Seat
from housingdesk.finding import Finding
from housingdesk.proof.checks import prove
from housingdesk.proof.seats import measure_seat
from housingdesk.proof.subject import Subject
from tests.proof.halves import block, both, mesh, minus, subject

PART = block([-10, -5, -5], [10, 5, 5])


def bar(radius_mm: float, start: float, end: float) -> trimesh.Trimesh:
    """A bar along x whose flats lie on the radius."""
    rod = trimesh.creation.cylinder(radius_mm / np.cos(np.pi / 128), end - start, sections=128)
    rod.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0]))
    rod.apply_translation([(start + end) / 2, 0, 0])
    return rod


def seated(pocket_mm: float = 14.4, width_mm: float = 5.2, open_mm: float = 12.2) -> Subject:
    """A bearing 5 x 14 x 5 from x = 20 on, in a pocket of such a size."""
    cavity = both(block([-11, -6, -6], [11, 6, 6]), bar(open_mm / 2, 10, 60))
    cavity = both(cavity, bar(pocket_mm / 2, 20, 20 + width_mm))
    made = subject(PART, cavity, [[-14, -12, -12], [30, 12, 12]], parting=0.0, clearance=1.0, wall=2.0)
    ring = Seat(
        "shaft", "605, 5 x 14 x 5", (20.0, 0, 0), (1.0, 0, 0), ((5.0, 14.0),), 12.2, 12.2, 13.4,
        laid=True, ends_mm=(26.6, 0, 0),
    )  # fmt: skip
    return replace(made, seats=(ring,))


def said(housing: Subject) -> Finding:
    return next(f for f in prove(housing).findings if f.code == "seat")


def test_pocket_and_shoulders_are_measured() -> None:
    housing = seated()
    found = measure_seat(housing, housing.seats[0])
    assert found.across_mm == (pytest.approx(14.4, abs=0.01),)
    assert found.along_mm == pytest.approx(5.2, abs=1e-3)
    assert found.open_mm == (pytest.approx(12.2, abs=0.01), pytest.approx(12.2, abs=0.01))
    line = said(housing)
    assert line.severity == "pass"
    assert "605, 5 x 14 x 5" in line.message
    assert "14.40 mm across for 14.00 mm and 5.20 mm along the shaft for 5.00 mm" in line.message
    assert "12.20 mm open" in line.message
    assert line.where_mm == (20.0, 0, 0)


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ({"pocket_mm": 13.8}, "needs 14.00 mm across"),
        ({"width_mm": 4.8}, "needs 5.00 mm along"),
        ({"open_mm": 11.8}, "would rub"),
        ({"open_mm": 13.6}, "catches nothing"),
    ],
)
def test_a_seat_of_a_wrong_size_fails(size: dict[str, float], words: str) -> None:
    line = said(seated(**size))
    assert line.severity == "fail"
    assert words in line.message


def test_what_stands_in_a_seat_is_found() -> None:
    housing = seated()
    lump = block([22, -9, 6.5], [23, 9, 9])
    upper = mesh(both(trimesh.Trimesh(housing.halves["upper"].vertices, housing.halves["upper"].faces), lump))
    line = said(replace(housing, halves=housing.halves | {"upper": upper}))
    assert line.severity == "fail"


def test_a_seat_open_inward_has_one_shoulder() -> None:
    housing = seated()
    cavity = minus(
        trimesh.Trimesh(housing.halves["lower"].vertices, housing.halves["lower"].faces), bar(7.2, 5, 21)
    )
    pushed = replace(housing.seats[0], laid=False)
    open_in = replace(housing, halves=housing.halves | {"lower": mesh(cavity)}, seats=(pushed,))
    found = measure_seat(open_in, pushed)
    assert len(found.open_mm) == 1
    assert "along the shaft" not in said(open_in).message
