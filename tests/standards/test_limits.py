"""Tolerance grades, general tolerances and guard distances."""

from __future__ import annotations

import math

import pytest

from housingdesk.errors import SpecError
from housingdesk.standards.guards import Opening, first_numeral, probes, safe_distance_mm
from housingdesk.standards.iso286 import GRADE_FACTOR, factor_um, it_mm
from housingdesk.standards.iso2768 import Grade, general_limit_mm

# ISO 286-1, micrometres, IT7 9 11 12 13 14 (R2: engineersvault.blogspot.com/2007/02; mechguru.com)
IT = {
    (3, 6): (12, 30, 75, 120, 180, 300),
    (6, 10): (15, 36, 90, 150, 220, 360),
    (10, 18): (18, 43, 110, 180, 270, 430),
    (18, 30): (21, 52, 130, 210, 330, 520),
    (30, 50): (25, 62, 160, 250, 390, 620),
    (50, 80): (30, 74, 190, 300, 460, 740),
    (80, 120): (35, 87, 220, 350, 540, 870),
}


@pytest.mark.parametrize(("step", "row"), IT.items())
def test_it_table_at_both_ends_of_each_step(step: tuple[int, int], row: tuple[int, ...]) -> None:
    for grade, um in zip((7, 9, 11, 12, 13, 14), row, strict=True):
        for size in (step[0] + 1e-6, sum(step) / 2, float(step[1])):
            assert it_mm(size, grade).value == pytest.approx(um / 1000)


@pytest.mark.parametrize(("step", "row"), IT.items())
def test_it_formula_gives_the_table_within_rounding(step: tuple[int, int], row: tuple[int, ...]) -> None:
    # ISO 286-1: i = 0.45 D^(1/3) + 0.001 D, D the geometric mean of the step; IT7 16 i ... IT14 400 i
    mean = math.exp((math.log(step[0]) + math.log(step[1])) / 2)
    i = 0.45 * mean ** (1 / 3) + 0.001 * mean
    assert factor_um(*step) == pytest.approx(i)
    for grade, um in zip((7, 9, 11, 12, 13, 14), row, strict=True):
        assert GRADE_FACTOR[grade] * i == pytest.approx(um, rel=0.045)


def test_spot_values_of_it14() -> None:
    # questionai.com: 0.36 at 10 mm, 0.87 at 100 mm
    assert it_mm(10, 14).value == 0.36
    assert it_mm(100, 14).value == 0.87


def test_formula_where_no_table_was_read() -> None:
    # closed form, D = sqrt(180 x 250) and so on
    for size, low, high in ((150, 120, 180), (200, 180, 250), (500, 400, 500), (25, 18, 30)):
        found = it_mm(size, 8)
        mean = math.sqrt(low * high)
        assert found.value * 1000 == pytest.approx(25 * (0.45 * mean ** (1 / 3) + 0.001 * mean))
        assert found.source.mark == "C"


def test_grades_follow_the_r5_series() -> None:
    # ISO 3 preferred numbers R5: ten times every five grades, rounded steps of 10^(1/5)
    for grade in (6, 7, 8, 9):
        assert GRADE_FACTOR[grade + 5] == 10 * GRADE_FACTOR[grade]
        assert GRADE_FACTOR[grade + 1] / GRADE_FACTOR[grade] == pytest.approx(10**0.2, rel=0.015)


@pytest.mark.parametrize(("size", "grade"), [(3.0, 7), (0, 7), (501, 7), (math.nan, 7), (25, 5), (25, 15)])
def test_it_limits(size: float, grade: int) -> None:
    with pytest.raises(SpecError):
        it_mm(size, grade)


@pytest.mark.parametrize(
    ("grade", "row"),
    # ISO 2768-1 at 0.5-3, -6, -30, -120, -400 (R2: four pages)
    [
        ("f", (0.05, 0.05, 0.1, 0.15, 0.2)),
        ("m", (0.1, 0.1, 0.2, 0.3, 0.5)),
        ("c", (0.2, 0.3, 0.5, 0.8, 1.2)),
    ],
)
def test_general_tolerances(grade: Grade, row: tuple[float, ...]) -> None:
    for (low, high), limit in zip(((0.5, 3), (3, 6), (6, 30), (30, 120), (120, 400)), row, strict=True):
        for size in (low + 1e-6, high):
            assert general_limit_mm(size, grade).value == limit
    assert general_limit_mm(0.5, grade).value == row[0]
    for size in (0.49, 400.1, 0, -3, math.nan):
        with pytest.raises(SpecError, match="between"):
            general_limit_mm(size, grade)


# ---- guards --------------------------------------------------------------------------------------------

# ISO 13857:2019 table 4 (R2: zt-grassberger.at): to, slot, square, round
TABLE_4 = [
    (4, 2, 2, 2), (6, 10, 5, 5), (8, 20, 15, 5), (10, 80, 25, 20), (12, 100, 80, 80), (20, 120, 120, 120),
    (30, 850, 120, 120), (40, 850, 200, 120), (120, 850, 850, 850),
]  # fmt: skip


def test_safe_distances_and_the_end_of_a_row_belongs_to_it() -> None:
    least = 0.1
    for to, *row in TABLE_4:
        shapes: tuple[Opening, ...] = ("slot", "square", "round")
        for shape, distance in zip(shapes, row, strict=True):
            for opening in (least, to):
                assert safe_distance_mm(shape, opening).value == distance
        least = to + 1e-6


def test_short_slots_stop_at_the_thumb() -> None:
    # table 4: slot 20 < e <= 30 no longer than 65: 200 (R2, also safetyfenceguarding.com)
    assert safe_distance_mm("slot", 25, 65).value == 200
    assert safe_distance_mm("slot", 25, 66).value == 850
    assert safe_distance_mm("slot", 25).value == 850
    assert safe_distance_mm("slot", 5, 30).value == 10
    assert safe_distance_mm("square", 25, 30).value == 120


@pytest.mark.parametrize("opening", [0.0, -1.0, math.nan, 120.1])
def test_openings_without_a_distance(opening: float) -> None:
    with pytest.raises(SpecError, match=r"opening|Openings"):
        safe_distance_mm("round", opening)


@pytest.mark.parametrize(
    ("opening", "clear", "numeral"),
    # IEC 60529: 50 / 12 and 12.5 / 2.5 / 1.0 (R2: ipcode-iec60529.com)
    [
        (60, False, 0), (50, False, 0), (49, False, 1), (12.4, False, 1), (12.4, True, 2), (12.6, True, 1),
        (12, False, 1), (11.9, False, 2), (2.5, False, 2), (2.4, False, 3), (1.0, False, 3), (0.9, False, 4),
    ],
)  # fmt: skip
def test_first_numeral(opening: float, clear: bool, numeral: int) -> None:
    assert first_numeral(opening, clear) == numeral


def test_probes() -> None:
    # IEC 60529 / 61032 (R2): finger 12 x 80, 10 N; sphere 12.5
    finger = probes()["IP2"]
    assert (finger.access_mm, finger.object_mm, finger.access_length_mm, finger.force_n) == (12, 12.5, 80, 10)
    assert (probes()["IP1"].object_mm, probes()["IP1"].force_n) == (50, 50)
    assert (probes()["IP3"].access_mm, probes()["IP4"].access_mm, probes()["IP4"].force_n) == (2.5, 1.0, 1)
    assert probes()["IP3"].source("force_n").from_memory
