"""Screws as written on the command line."""

from __future__ import annotations

from typing import Any

import pytest

from housingdesk.errors import SpecError
from housingdesk.features.hardware import HOLDS
from housingdesk.features.screw_words import HOLD_WORDS, screws_from_words


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("M3x4", {"size": "M3", "count": 4, "length_mm": None, "holds": "whatever fits"}),
        ("m2.5X6", {"size": "M2.5", "count": 6}),
        ("M3x4x16", {"count": 4, "length_mm": 16.0}),
        ("M3x4:insert", {"holds": "heat-set inserts"}),
        (" M4x2x20:SLIDE ", {"size": "M4", "count": 2, "length_mm": 20.0, "holds": "nuts slid in"}),
        ("M5×4:through", {"holds": "nuts outside"}),
        ("M3x4:pilot", {"holds": "printed threads"}),
        ("M3x4:nut", {"holds": "nuts dropped in"}),
    ],
)
def test_wishes(text: str, wish: dict[str, Any]) -> None:
    found = screws_from_words(text)
    assert {key: getattr(found, key) for key in wish} == wish


@pytest.mark.parametrize(
    "text", ["", "M3", "4xM3", "M3x4:glue", "M7x4", "M3x0", "M3x99", "M3x4x100", "M3x4x", "M3x4x1.2.3", "x"]
)
def test_what_is_no_wish_is_one_sentence_with_an_example(text: str) -> None:
    with pytest.raises(SpecError) as caught:
        screws_from_words(text)
    said = str(caught.value)
    assert "\n" not in said
    assert said.endswith(".")
    assert "M3" in said


def test_every_hold_has_a_word() -> None:
    assert set(HOLD_WORDS.values()) - {"whatever fits"} == set(HOLDS)
