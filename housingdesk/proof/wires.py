"""Wires' channels as built: their width and what a clamp leaves, measured by sections of the halves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from housingdesk.features.records import Channel, Point
from housingdesk.finding import Finding
from housingdesk.geometry.types import SIDES, Side
from housingdesk.proof.measured import Measured
from housingdesk.proof.sight import free_mm
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import mm

SLACK_MM = 0.05
_BESIDE_MM = 0.02  # measured so near the parting plane, in which the halves' own faces lie
_PLACES = 9  # along the way through the wall
_UP = np.array([0.0, 0.0, 1.0])


def channels(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge each channel: the wire passes its mouth, and a clamp presses on it from both halves."""
    for channel in subject.channels:
        width = min(_width_mm(subject, channel, side) for side in SIDES)
        passes = f"The channel of {channel.name} is {mm(width)} wide at its narrowest"
        wire = f"a wire of {mm(channel.wire_mm)}"
        if width < channel.width_mm - SLACK_MM:
            yield Finding(
                "wireway-width",
                "fail" if width < channel.wire_mm else "caution",
                f"{passes}, {mm(channel.width_mm)} asked for {wire}.",
                "Move it away from what stands in it.",
                channel.mouth_mm,
            )
        elif channel.hold_mm is None:
            yield Finding("wireway-width", "pass", f"{passes}, for {wire}.", where_mm=channel.mouth_mm)
        else:
            yield _clamp(subject, channel, channel.hold_mm, f"{passes}, for {wire}")


def _clamp(subject: Subject, channel: Channel, hold_mm: Point, passes: str) -> Finding:
    """Judge the humps of a clamp; ``passes`` has the words for a channel that is as wide as asked."""
    reach = {side: _reach_mm(subject, channel, side) for side in SIDES}
    missing = [side for side in SIDES if reach[side] > channel.gap_mm / 2 + SLACK_MM]
    gap = sum(reach.values())
    if missing:
        return Finding(
            "wireway-clamp",
            "fail",
            f"The hump of {channel.name} is missing or cut short in the {' and the '.join(missing)} half, so "
            "that it does not hold the wire.",
            "Move it away from what cuts it.",
            hold_mm,
        )
    pressed = channel.wire_mm - gap
    if pressed < SLACK_MM:
        return Finding(
            "wireway-clamp",
            "caution",
            f"The clamp of {channel.name} leaves {mm(gap)}, and does not press on a wire of "
            f"{mm(channel.wire_mm)}.",
            "Squeeze more.",
            hold_mm,
        )
    return Finding(
        "wireway-clamp",
        "pass",
        f"{passes}; the humps of its clamp, one in each half, leave {mm(gap)}, so that they press the wire "
        f"by {mm(pressed)}.",
        where_mm=hold_mm,
    )


def _width_mm(subject: Subject, channel: Channel, side: Side) -> float:
    """Return how wide one half's share of a channel is at its narrowest, beside the parting plane.

    Ears beside its mouth and what gives way for it inside may leave it wider than it is over much of its way.
    """
    start = np.array(channel.mouth_mm) + (_BESIDE_MM if side == "upper" else -_BESIDE_MM) * _UP
    places = [start - far * np.array(channel.out) for far in np.linspace(0.0, channel.straight_mm, _PLACES)]
    across = np.array(channel.across)
    return min(
        sum(free_mm(subject.halves[side], at, way * across, _UP) for way in (1.0, -1.0)) for at in places
    )


def _reach_mm(subject: Subject, channel: Channel, side: Side) -> float:
    """Return how far a half's hump is from the channel's axis."""
    up = _UP if side == "upper" else -_UP
    assert channel.hold_mm is not None
    return free_mm(subject.halves[side], np.array(channel.hold_mm), up, np.array(channel.across))
