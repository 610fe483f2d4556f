"""Reading numbers as people type them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.proof.wording import volume
from housingdesk.ui.lengths import read_number, size_words, write_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2.4", 2.4),
        (" 2,4 ", 2.4),
        ("2.4 mm", 2.4),
        ("2.4mm", 2.4),
        (".5", 0.5),
        ("1 cm", 10.0),
        ("0.01m", 10.0),
        # International yard and pound agreement (1959): 1 inch = 25.4 mm exactly.
        ("1 in", 25.4),
        ("1 inch", 25.4),
        ('0.5"', 12.7),
    ],
)
def test_lengths_are_read_in_the_units_people_use(text: str, value: float) -> None:
    assert read_number(text, "mm", 0.0, 100.0) == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "abc", "1.2.3", "--1", "nan", "inf", "1e400", "1 furlong", "2 4", "00.850", "-007"]
)
def test_what_is_no_length_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match=r"^[“C].+\.$"):
        read_number(text, "mm", 0.0, 100.0)


def test_limits_are_allowed_and_what_lies_beyond_is_told_with_both() -> None:
    assert read_number("0.4", "mm", 0.4, 50.0) == 0.4
    assert read_number("50", "mm", 0.4, 50.0) == 50.0
    with pytest.raises(ValueError, match=r"0\.40 to 50\.00 mm"):
        read_number("50.01", "mm", 0.4, 50.0)


def test_counts_take_whole_numbers_only() -> None:
    assert read_number("3", "", 1, 20, whole=True) == 3.0
    with pytest.raises(ValueError, match="not a whole number"):
        read_number("2.5", "", 1, 20, whole=True)


def test_a_share_takes_its_sign() -> None:
    assert read_number("50 %", "%", 0, 100) == 50.0


def test_an_angle_takes_its_sign_but_no_length_unit() -> None:
    assert read_number("45°", "°", -360, 360) == 45.0
    with pytest.raises(ValueError, match="not a unit"):
        read_number("45 mm", "°", -360, 360)


@given(st.floats(-1e4, 1e4).map(lambda v: round(v, 2)))
def test_what_is_written_reads_back(value: float) -> None:
    assert read_number(write_number(value), "mm", -1e4, 1e4) == pytest.approx(value, abs=1e-9)
    assert not write_number(value).startswith("-0.00")


def test_words_for_sizes_and_volumes() -> None:
    assert size_words((61.5, 44.0, 22.04)) == "61.5 × 44.0 × 22.0 mm"
    assert volume(31240.0) == "31.2 cm³"
    assert volume(38.4) == "38 mm³"
