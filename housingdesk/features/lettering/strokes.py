"""Plain letters of our own, drawn as lines of even width: they need no font."""

from __future__ import annotations

import json
import unicodedata
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

import housingdesk
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats

_FILE = "lettering/plain.json"


@cache
def _alphabet() -> dict[str, Any]:
    package = Path(housingdesk.__file__).resolve().parent
    inside = package / "_data" / "resources"
    folder = inside if inside.is_dir() else package.parent / "resources"
    found: dict[str, Any] = json.loads((folder / _FILE).read_text(encoding="utf-8"))
    return found


def stroke_outline(text: str) -> tuple[Outline, str]:
    """Return a line of text as an area, capitals 1 high, baseline at 0.

    Small letters are drawn as capitals; an accent is left out where the letter is known without it.

    Returns
    -------
    outline : empty where no letter is known.
    missing : the letters that are not known.
    """
    table = _alphabet()
    height, width = float(table["height"]), float(table["stroke"])
    bars: list[Outline] = []
    at_x, missing = 0.0, ""
    for letter in text:
        glyph = _glyph(letter)
        if glyph is None:
            missing += letter
            continue
        for stroke in glyph["strokes"]:
            bars += _bars(np.asarray(stroke, float) + np.array([at_x, 0.0]), width)
        at_x += float(glyph["width"]) + float(table["gap"])
    if not bars:
        return Outline.union([]), missing
    # The middle line stands half a stroke inside the letter's height.
    return Outline.union(bars).moved((0.0, width / 2)).scaled(1.0 / (height + width)), missing


def _glyph(letter: str) -> dict[str, Any] | None:
    glyphs = _alphabet()["glyphs"]
    for form in (letter, letter.upper(), unicodedata.normalize("NFD", letter.upper())[:1]):
        if form in glyphs:
            found: dict[str, Any] = glyphs[form]
            return found
    return None


def _bars(points: Floats, width: float) -> list[Outline]:
    """Return a line of a pen with a round tip: a disc at each corner, a bar between them."""
    discs = [Outline.circle(p, width / 2) for p in points]
    return discs + [Outline.union([a, b]).hull() for a, b in pairwise(discs)]
