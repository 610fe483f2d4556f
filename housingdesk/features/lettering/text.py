"""A line of text as an area."""

from __future__ import annotations

from dataclasses import dataclass

from housingdesk.errors import SpecError
from housingdesk.features.lettering.fonts import file_of, font_loops
from housingdesk.features.lettering.strokes import stroke_outline
from housingdesk.geometry.solid import Outline


@dataclass(frozen=True, eq=False)
class Lettering:
    """A line of text, its middle at the origin.

    Attributes
    ----------
    outline : the area.
    notes : sentences about letters or a font that this machine lacks.
    """

    outline: Outline
    notes: tuple[str, ...] = ()


def letters_of(text: str, height_mm: float, font: str = "") -> Lettering:
    """Return a line of text.

    Parameters
    ----------
    height_mm : of capitals.
    font : name of an installed font; empty takes the plain strokes that come with the program.

    Raises
    ------
    SpecError : nothing of the text can be drawn.
    """
    notes: list[str] = []
    found = None
    if font.strip():
        at = file_of(font)
        found = None if at is None else font_loops(at, text)
        if found is None:
            notes.append(f"The font '{font}' is not on this machine; plain letters are used.")
    if found is None:
        area, missing = stroke_outline(text)
    else:
        area, missing = Outline.wound(*found[0]), found[1]
    if area.is_empty:
        raise SpecError("None of these letters can be drawn; write other words or choose another font.")
    if missing:
        lacking = " ".join(dict.fromkeys(missing))
        notes.append(f"Left out, because the font has none of these letters: {lacking}.")
    return Lettering(centred(area.scaled(height_mm)), tuple(notes))


def centred(area: Outline) -> Outline:
    """Return an area with the middle of its box at the origin."""
    return area.moved(-area.bounds.mean(axis=0))
