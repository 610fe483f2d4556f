"""Bearings, motor faces and cells."""

from __future__ import annotations

import math

import pytest

from housingdesk.errors import SpecError
from housingdesk.standards.bearings import bearing_for, bearings
from housingdesk.standards.cells import cell
from housingdesk.standards.motors import motor_faces


@pytest.mark.parametrize(
    ("name", "size", "mark"),
    [
        # ISO 15 as read at softsolder.com/2011/02/18 (R)
        ("608", (8, 22, 7), "R2"), ("625", (5, 16, 5), "R"), ("626", (6, 19, 6), "R"),
        ("623", (3, 10, 4), "R"), ("605", (5, 14, 5), "R"),
        # scribd.com/document/248707361 (R)
        ("6000", (10, 26, 8), "R"), ("6001", (12, 28, 8), "R"),
        ("6002", (15, 32, 9), "R"), ("6003", (17, 35, 10), "R"),
    ],
)  # fmt: skip
def test_bearings(name: str, size: tuple[float, float, float], mark: str) -> None:
    bearing = bearings()[name]
    assert (bearing.bore_mm, bearing.outside_mm, bearing.width_mm) == size
    assert {source.mark for _, source in bearing.provenance} == {mark}


def test_624_says_that_it_is_from_memory() -> None:
    assert all(source.from_memory for _, source in bearings()["624"].provenance)
    assert sum(b.source("bore_mm").from_memory for b in bearings().values()) == 1


def test_bearings_for_a_shaft() -> None:
    assert [b.name for b in bearing_for(5.0)] == ["605", "625"]
    assert [b.name for b in bearing_for(7.96)] == ["608"]
    assert bearing_for(7.0) == ()


@pytest.mark.parametrize(
    ("name", "spacing", "shaft", "pilot", "height"),
    # massmind.org/Techref/io/stepper/nemasizes.htm (R)
    [
        ("NEMA 8", 16, 4, 15, 1.5),
        ("NEMA 11", 23, 5, 22, 2),
        ("NEMA 14", 26, 5, 22, 2),
        ("NEMA 17", 31, 5, 22, 2),
        ("NEMA 23", 47.15, 6.35, 38.1, 1.6),
    ],
)
def test_motor_faces(name: str, spacing: float, shaft: float, pilot: float, height: float) -> None:
    face = motor_faces()[name]
    assert (face.hole_spacing_mm, face.shaft_mm, face.pilot_mm, face.pilot_height_mm) == (
        spacing, shaft, pilot, height,
    )  # fmt: skip
    assert "measure your motor" in face.warning
    # the four holes lie inside the face and outside the pilot
    assert face.pilot_mm < math.sqrt(2) * spacing
    assert spacing < face.face_mm.low


def test_motor_bolt_circles() -> None:
    # bolt circles 1.725 and 2.625 in (RC), the hole square is the circle / sqrt2
    assert motor_faces()["NEMA 17"].hole_spacing_mm == pytest.approx(1.725 * 25.4 / math.sqrt(2), abs=0.02)
    assert motor_faces()["NEMA 23"].hole_spacing_mm == pytest.approx(2.625 * 25.4 / math.sqrt(2), abs=0.01)


def test_motor_faces_are_a_range_where_sources_differ() -> None:
    # nominal frame number x 0.1 in: 43.2 and 58.4; aspina-group.com: about 42 and 56
    for name, low, high in (("NEMA 17", 42, 43.2), ("NEMA 23", 56, 58.4)):
        face = motor_faces()[name].face_mm
        assert (face.low, face.high) == (low, high)
        assert motor_faces()[name].source("face_mm").mark == "X"


def test_18650() -> None:
    # 18 +-0.2 by 65 (+-0.5); with a protection board up to 3 longer, 0.5 wider
    # (R2: large-battery.com/news/30.html; battsysbattery.com; batteries18650.com)
    for code in ("18650", "INR18650", "icr 18650"):
        found = cell(code)
        assert (found.diameter_mm, found.length_mm) == (18, 65)
        assert (found.diameter_limit_mm, found.length_limit_mm) == (0.2, 0.5)
        assert (found.extra_diameter_mm, found.extra_length_mm) == (0.5, 3)
        assert not found.source("length_mm").from_memory


@pytest.mark.parametrize(
    ("code", "diameter", "length"),
    # The rule of the code, from memory: five digits dd lll/10, coin cells dd ll/10, with a stroke whole mm.
    [
        ("21700", 21, 70.0),
        ("14500", 14, 50.0),
        ("26650", 26, 65.0),
        ("CR2032", 20, 3.2),
        ("CR123", None, None),
        ("cr-2025", 20, 2.5),
        ("INR19/66", 19, 66.0),
    ],
)
def test_size_from_the_code(code: str, diameter: float | None, length: float | None) -> None:
    if diameter is None:
        with pytest.raises(SpecError, match="names no round cell"):
            cell(code)
        return
    found = cell(code)
    assert (found.diameter_mm, found.length_mm) == (diameter, length)
    assert found.source("diameter_mm").from_memory


@pytest.mark.parametrize("code", ["", "cell", "1", "00000", "CR0032", "18650650", "9V"])
def test_other_codes_are_refused(code: str) -> None:
    with pytest.raises(SpecError, match="size in mm"):
        cell(code)


def test_letter_sizes_say_that_they_are_from_memory() -> None:
    for name in ("AAA", "AA", "C", "D"):
        assert cell(name).source("diameter_mm").from_memory


@pytest.mark.parametrize(
    ("code", "size_mm"),
    [("LR6", (14.5, 50.5)), ("HR03", (10.5, 44.5)), ("R20", (34.2, 61.5)), ("LR44", (11.6, 5.4))],
)
def test_iec_numbers_of_the_old_sizes(code: str, size_mm: tuple[float, float]) -> None:
    """IEC 60086-2 designations and greatest sizes, from memory."""
    found = cell(code)
    assert (found.name, found.diameter_mm, found.length_mm) == (code, *size_mm)
    assert found.source("diameter_mm").from_memory
