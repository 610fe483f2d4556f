"""The proof of wires' channels measures the halves: a filled channel and a lost hump are found."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.features.wireway import Wireway
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Side
from housingdesk.proof.wires import channels
from tests.features.sites import block_site, halves_with
from tests.proof.halves import boxed

SITE = block_site()
CLAMP: dict[str, Any] = {"relief": "clamp", "wire_mm": 4.0, "room_mm": 0.3, "squeeze_mm": 0.6}


def proved(
    feature: Wireway, add: dict[Side, Solid] | None = None, cut: dict[Side, Solid] | None = None
) -> Finding:
    halves = halves_with(SITE, feature)
    for side, body in (add or {}).items():
        halves[side] = halves[side] | body
    for side, body in (cut or {}).items():
        halves[side] = halves[side] - body
    made = replace(
        boxed(),
        halves={side: half.mesh() for side, half in halves.items()},
        parting_z_mm=SITE.parting_z_mm,
        channels=feature.build(SITE).channels,
    )
    (finding,) = channels(made, None)  # type: ignore[arg-type]  # this check measures for itself
    return finding


def around(place: Any, half_mm: float) -> Solid:
    return Solid.box(np.array(place) - half_mm, np.array(place) + half_mm)


@pytest.mark.parametrize("shape", ["round", "square"])
def test_width_and_clamp_are_told_as_measured(shape: Any) -> None:
    found = proved(Wireway(name="Wireway", shape=shape, **CLAMP))
    assert (found.code, found.severity) == ("wireway-clamp", "pass")
    assert re.fullmatch(
        r"The channel of Wireway is 4\.6[01] mm wide at its narrowest, for a wire of 4\.00 mm; the humps of "
        r"its clamp, one in each half, leave 3\.40 mm, so that they press the wire by 0\.60 mm\.",
        found.message,
    )


@pytest.mark.parametrize("relief", ["none", "labyrinth"])
def test_without_a_clamp_the_width_is_told(relief: Any) -> None:
    found = proved(Wireway(name="Wireway", wire_mm=3.0, room_mm=0.25, relief=relief))
    assert (found.code, found.severity) == ("wireway-width", "pass")
    assert re.search(r"is 3\.5\d mm wide at its narrowest, for a wire of 3\.00 mm\.$", found.message)


@pytest.mark.parametrize(("reach_mm", "severity"), [(0.5, "fail"), (0.15, "caution")])
def test_what_stands_in_the_channel_is_found(reach_mm: float, severity: str) -> None:
    feature = Wireway(name="Wireway", **CLAMP)
    (channel,) = feature.build(SITE).channels
    side_of_it = np.array(channel.mouth_mm) + np.array(channel.across) * (
        channel.width_mm / 2 - 2 * reach_mm + 1.0
    )
    found = proved(feature, add={"lower": around(side_of_it - [0, 0, 1.0], 1.0)})
    assert (found.code, found.severity) == ("wireway-width", severity)
    told = re.search(r"is (\d\.\d+) mm wide", found.message)
    assert told is not None
    assert float(told[1]) == pytest.approx(4.6 - 2 * reach_mm, abs=0.02)


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_a_hump_that_is_gone_is_found(side: Side) -> None:
    feature = Wireway(name="Wireway", **CLAMP)
    (channel,) = feature.build(SITE).channels
    found = proved(feature, cut={side: around(channel.hold_mm, 2.2)})
    assert (found.code, found.severity) == ("wireway-clamp", "fail")
    assert f"in the {side} half" in found.message


def test_a_clamp_that_does_not_press_is_said() -> None:
    found = proved(Wireway(name="Wireway", **{**CLAMP, "squeeze_mm": 0.0}))
    assert (found.severity, found.remedy) == ("caution", "Squeeze more.")
