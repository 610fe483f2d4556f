"""Fonts of this machine: where they lie, what they are called, and their letters as closed lines."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont, TTLibError

from housingdesk.geometry.types import Floats

Pair = tuple[float, float]
_SUFFIXES = {".ttf", ".otf", ".ttc", ".otc"}
_STEPS = 8  # chords of one curve of a letter; at 10 mm height well under a printer's line
_FAMILY, _STYLE, _TYPO_FAMILY, _TYPO_STYLE = 1, 2, 16, 17  # entries of the name table (ISO/IEC 14496-22)
_USUAL_CAPS = 0.7  # of the em: height of capitals where a font does not tell (common practice, no source)


def folders() -> tuple[Path, ...]:
    """Return the folders in which this kind of machine keeps its fonts."""
    home = Path.home()
    if sys.platform == "win32":
        system = Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"
        own = Path(os.environ.get("LOCALAPPDATA", home / "AppData/Local")) / "Microsoft/Windows/Fonts"
        return (system, own)
    if sys.platform == "darwin":
        return (Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts")
    data = Path(os.environ.get("XDG_DATA_HOME", home / ".local/share"))
    return (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), data / "fonts", home / ".fonts")


@cache
def installed() -> dict[str, tuple[Path, int]]:
    """Return every font of this machine by its name: its file, and its number within the file."""
    found: dict[str, tuple[Path, int]] = {}
    for path in _files():
        for number, name in _names(path):
            found.setdefault(name, (path, number))
    return dict(sorted(found.items(), key=lambda item: item[0].casefold()))


def _files() -> Iterator[Path]:
    for folder in folders():
        if folder.is_dir():
            yield from sorted(p for p in folder.rglob("*") if p.suffix.lower() in _SUFFIXES and p.is_file())


def _names(path: Path) -> Iterator[tuple[int, str]]:
    """Return number and name of each font in a file; nothing for a damaged one."""
    try:
        for number in range(_count(path)):
            with path.open("rb") as file, TTFont(file, fontNumber=number, lazy=True) as font:
                table = font["name"]
                family = table.getDebugName(_TYPO_FAMILY) or table.getDebugName(_FAMILY)
                style = table.getDebugName(_TYPO_STYLE) or table.getDebugName(_STYLE) or "Regular"
                if family:
                    yield number, family if style == "Regular" else f"{family} {style}"
    except (TTLibError, OSError, KeyError, ValueError, AssertionError, UnicodeDecodeError):
        return


def _count(path: Path) -> int:
    """Return how many fonts a file holds."""
    if path.suffix.lower() not in {".ttc", ".otc"}:
        return 1
    with path.open("rb") as file:
        head = file.read(12)
    return int.from_bytes(head[8:12], "big") if head[:4] == b"ttcf" else 1


def file_of(name: str) -> tuple[Path, int] | None:
    """Return where a font lies by its name, capitals or not; None where this machine has none of it."""
    wanted = name.strip().casefold()
    return next((at for own, at in installed().items() if own.casefold() == wanted), None)


class _Flat(BasePen):  # type: ignore[misc] # fontTools is not typed
    """Takes a letter's curves as chords; the names of its methods are the library's."""

    def __init__(self, glyphs: object) -> None:
        super().__init__(glyphs)
        self.loops: list[list[Pair]] = []

    def _moveTo(self, pt: Pair) -> None:  # noqa: N802
        self.loops.append([pt])

    def _lineTo(self, pt: Pair) -> None:  # noqa: N802
        self.loops[-1].append(pt)

    def _curveToOne(self, a: Pair, b: Pair, c: Pair) -> None:  # noqa: N802
        t = np.linspace(0, 1, _STEPS + 1)[1:, None]
        start = np.array(self.loops[-1][-1])
        points = (1 - t) ** 3 * start + 3 * t * (1 - t) ** 2 * a + 3 * t**2 * (1 - t) * b + t**3 * c
        self.loops[-1] += [(float(x), float(y)) for x, y in points]


def font_loops(at: tuple[Path, int], text: str) -> tuple[list[Floats], str] | None:
    """Return a line of text as closed lines, capitals 1 high, baseline at 0; None for a damaged font.

    Kerning is not looked at.

    Returns
    -------
    loops : each (k, 2); overlapping ones count once (winding number not zero).
    missing : the letters that the font does not have.
    """
    try:
        with at[0].open("rb") as file, TTFont(file, fontNumber=at[1], lazy=True) as font:
            glyphs, names = font.getGlyphSet(), font.getBestCmap() or {}
            tall = getattr(font["OS/2"], "sCapHeight", 0) if "OS/2" in font else 0
            scale = 1.0 / (tall or _USUAL_CAPS * font["head"].unitsPerEm)
            loops, at_x, missing = [], 0.0, ""
            for letter in text:
                name = names.get(ord(letter))
                if name is None:
                    missing += letter
                    continue
                pen = _Flat(glyphs)
                glyphs[name].draw(pen)
                start = np.array([at_x, 0.0])
                loops += [(np.array(p) + start) * scale for p in pen.loops if len(p) > 2]
                at_x += glyphs[name].width
    except (TTLibError, OSError, KeyError, ValueError, AssertionError):
        return None
    return loops, missing
