"""The program's colours, in a light and a dark twin.  No Qt, no VTK: ``ui`` and ``view3d`` both read it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours as ``#RRGGBB``.

    Attributes
    ----------
    paper : ground of the bench; card : ground of the sheets beside it; field : ground of a number field.
    line : hairlines between things; rule : outline of fields and buttons.
    ink, soft, faint : text in falling weight; each is legible on paper and on card (WCAG 2.1 contrast
        of at least 4.5 for ink and soft, 3 for faint, which only large or idle text uses).
    upper, lower, ghost : the upper half, the lower half, the untouched part.
    bought : bearings and the like, as they lie in the housing.
    on_upper : text on a button filled with ``upper``.
    good, caution, fail : text of the three severities.
    snap : the parting plane's grip while it holds a snapping height, and marks that ask for attention.
    """

    paper: str
    card: str
    field: str
    line: str
    rule: str
    ink: str
    soft: str
    faint: str
    upper: str
    lower: str
    ghost: str
    bought: str
    on_upper: str
    good: str
    caution: str
    fail: str
    snap: str


LIGHT = Palette(
    paper="#EEF0EA",
    card="#F8F8F3",
    field="#FFFFFF",
    line="#C9CDC2",
    rule="#9AA59C",
    ink="#23302E",
    soft="#55615B",
    faint="#6B766F",
    upper="#2F7F86",
    lower="#C08A34",
    ghost="#7A4E9E",
    bought="#4A5568",
    on_upper="#FFFFFF",
    good="#2F6B3A",
    caution="#8A5A00",
    fail="#A3342C",
    snap="#A8660C",
)

DARK = Palette(
    paper="#1B2322",
    card="#232D2B",
    field="#2C3836",
    line="#3B4845",
    rule="#65746F",
    ink="#E6EAE2",
    soft="#B3BDB5",
    faint="#94A19A",
    upper="#3F9BA3",
    lower="#CF9A45",
    ghost="#B78AD8",
    bought="#AEBBCB",
    on_upper="#0E1716",
    good="#86C893",
    caution="#E3B15C",
    fail="#F0938A",
    snap="#F0B860",
)


def palette(dark: bool) -> Palette:
    """Return the twin for a light or a dark window."""
    return DARK if dark else LIGHT


def channels(colour: str) -> tuple[float, float, float]:
    """Return red, green and blue of ``#RRGGBB``, each from 0 to 1."""
    return (int(colour[1:3], 16) / 255, int(colour[3:5], 16) / 255, int(colour[5:7], 16) / 255)


def mixed(colour: str, other: str, share: float) -> str:
    """Return ``colour`` with ``share`` (0 to 1) of ``other`` stirred in, linear in the stored values."""
    pairs = zip(channels(colour), channels(other), strict=True)
    return "#" + "".join(f"{round(255 * (a + (b - a) * share)):02X}" for a, b in pairs)
