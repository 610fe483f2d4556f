"""The scale of the clearance map: its colours, its ends, and the values asked.  No Qt, no VTK."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from housingdesk.geometry.types import Floats
from housingdesk.view3d.paint import Paint, shades
from housingdesk.view3d.palette import Palette, channels, mixed

# Even steps of lightness, blue to yellow, which every eye tells apart: the map "cividis" (Nuñez, Anderton,
# Renslow, "Optimizing colormaps with consideration for color vision deficiency", 2018), ten of its colours,
# from memory.
STOPS = (
    "#00224E",
    "#123570",
    "#3B496C",
    "#575D6D",
    "#707173",
    "#8A8678",
    "#A59C74",
    "#C3B369",
    "#E1CC55",
    "#FEE838",
)
SLACK_MM = 0.01  # so much less than asked is not told: it is what the making of the halves promises
_BEYOND = 2.0  # the scale ends at so many times the greatest clearance asked
_LEAST_END_MM = 0.5


@dataclass(frozen=True, slots=True)
class Legend:
    """The scale as drawn: from 0 over each clearance asked to its end, all of them equally far apart.

    So clearances that differ by little differ in colour, and their words do not lie over one another.

    Attributes
    ----------
    most_mm : its end; wider gaps have its last colour.
    asked_mm : clearances asked, each marked on it.
    short_colour : of places with less room than asked; empty where there are none.
    open_colour : of what lies in the open.
    """

    most_mm: float
    asked_mm: tuple[float, ...]
    short_colour: str
    open_colour: str

    def shares(self, gap_mm: ArrayLike) -> Floats:
        """Return where on the scale gaps lie, 0 to 1; wider ones than its end lie at 1."""
        stops = [0.0, *self._inner_mm, self.most_mm]
        return np.asarray(np.interp(np.asarray(gap_mm, float), stops, np.linspace(0, 1, len(stops))))

    def words(self, most: int) -> list[tuple[float, str]]:
        """Return what is written beside the scale: where, 0 to 1, and the words, from below.

        Parameters
        ----------
        most : so many clearances have room for words of their own; if there are more, neighbours share them.
        """
        inner = self._inner_mm
        together = -(-len(inner) // max(most, 1)) if inner else 1
        out = [(0.0, "0 mm, asked" if 0.0 in self.asked_mm else "0 mm")]
        for first in range(0, len(inner), together):
            group = inner[first : first + together]
            figures = f"{group[0]:.2f}" if len(group) == 1 else f"{group[0]:.2f} to {group[-1]:.2f}"
            out.append((float(self.shares(group).mean()), f"{figures} asked"))
        return [*out, (1.0, f"{self.most_mm:.2f} and more")]

    @property
    def _inner_mm(self) -> tuple[float, ...]:
        return tuple(v for v in self.asked_mm if v > 0)


def gap_legend(gap_mm: ArrayLike, asked_mm: ArrayLike, colours: Palette) -> Legend:
    """Return the scale for gaps (n,) where clearances (n,) were asked; gaps in the open are nan."""
    gap, asked = np.asarray(gap_mm, float), np.asarray(asked_mm, float)
    values = tuple(sorted({round(float(v), 3) for v in np.unique(asked)}))
    most = max(_BEYOND * max(values, default=0.0), _LEAST_END_MM)
    short = bool((gap < asked - SLACK_MM).any())
    return Legend(most, values, colours.fail if short else "", open_colour(colours))


def open_colour(colours: Palette) -> str:
    """Return the colour of what lies in the open and has no gap."""
    return mixed(colours.ghost, colours.paper, 0.75)


def gap_paint(gap_mm: ArrayLike, asked_mm: ArrayLike, legend: Legend, colours: Palette) -> Paint:
    """Return the colours of a map's triangles."""
    gap, asked = np.asarray(gap_mm, float), np.asarray(asked_mm, float)
    known = ~np.isnan(gap)
    rgb = shades(legend.shares(np.where(known, gap, 0.0)), STOPS, 0.0, 1.0)
    rgb[~known] = _rgb(legend.open_colour)
    rgb[known & (gap < asked - SLACK_MM)] = _rgb(colours.fail)
    return Paint(rgb)


def _rgb(colour: str) -> np.ndarray[tuple[int], np.dtype[np.uint8]]:
    return np.asarray(np.round(255 * np.array(channels(colour))), np.uint8)
