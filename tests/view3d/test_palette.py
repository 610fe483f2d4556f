"""Colours: legible, and told apart."""

from __future__ import annotations

import pytest

from housingdesk.view3d.palette import DARK, LIGHT, Palette, channels, mixed, palette


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1 (W3C Recommendation, definition of relative luminance)."""
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels(colour))
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.1."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_own_ends() -> None:
    # WCAG 2.1: "Contrast ratios can range from 1 to 21".
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == 1.0


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_text_is_legible(colours: Palette, ground: str) -> None:
    # WCAG 2.1, 1.4.3: 4.5 for text, 3 for large text; 1.4.11: 3 for what is not text.
    on = getattr(colours, ground)
    for name in ("ink", "soft", "good", "caution", "fail"):
        assert contrast(getattr(colours, name), on) >= 4.5, name
    for name in ("faint", "snap", "ghost", "bought", "upper"):
        assert contrast(getattr(colours, name), on) >= 3.0, name


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_text_on_buttons_is_legible(colours: Palette) -> None:
    assert contrast(colours.on_upper, colours.upper) >= 4.5


def test_twins() -> None:
    assert palette(False) is LIGHT
    assert palette(True) is DARK
    assert luminance(LIGHT.paper) > 0.8
    assert luminance(DARK.paper) < 0.05
    assert (LIGHT.paper, LIGHT.upper, LIGHT.lower, LIGHT.ghost) == (
        "#EEF0EA",
        "#2F7F86",
        "#C08A34",
        "#7A4E9E",
    )


def test_mixing() -> None:
    assert mixed("#102030", "#F0E0D0", 0.0) == "#102030"
    assert mixed("#102030", "#F0E0D0", 1.0) == "#F0E0D0"
    assert mixed("#000000", "#FFFFFF", 0.2) == "#333333"
