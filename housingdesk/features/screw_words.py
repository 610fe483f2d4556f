"""Screws as one writes them on the command line: M3x4, M3x4x16, M3x4:insert."""

from __future__ import annotations

import re
from typing import Literal

from pydantic import ValidationError

from housingdesk.errors import SpecError
from housingdesk.features.hardware import Holds
from housingdesk.features.screws import Screws
from housingdesk.standards.screws import SIZES

HOLD_WORDS: dict[str, Holds | Literal["whatever fits"]] = {
    "fit": "whatever fits",
    "pilot": "printed threads",
    "insert": "heat-set inserts",
    "nut": "nuts dropped in",
    "slide": "nuts slid in",
    "through": "nuts outside",
}
_WISH = re.compile(
    r"M(?P<size>[\d.]+)[x×](?P<count>\d+)(?:[x×](?P<length>[\d.]+))?(?::(?P<hold>\w+))?", re.IGNORECASE
)


def screws_from_words(text: str) -> Screws:
    """Read a wish: size x count, x length in mm if one likes, and : what holds.

    Raises
    ------
    SpecError : it is not written so, or no such screws can be had.
    """
    found = _WISH.fullmatch(text.strip())
    holds = HOLD_WORDS.get((found["hold"] or "fit").lower()) if found else None
    if found is None or holds is None:
        raise SpecError(
            f"'{text}' is no wish for screws: write size x count such as M3x4, then x length in mm if you "
            f"like, and a hold after a colon ({', '.join(HOLD_WORDS)}), as in M3x4x16:insert."
        )
    entry = {"size": f"M{found['size']}", "count": found["count"], "length_mm": found["length"]}
    try:
        return Screws.model_validate({"name": Screws.TITLE, "holds": holds, **entry})
    except ValidationError as error:
        raise SpecError(
            f"'{text}' is no wish for screws: there are {', '.join(SIZES)}, 1 to 16 of them, 3 to 60 mm long."
        ) from error
