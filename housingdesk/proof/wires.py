"""Wires' channels as built: their width and what a clamp leaves, measured by sections of the halves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from housingdesk.features.records import Channel, Point
from housingdesk.finding import Finding
from housingdesk.geometry.section import section
from housingdesk.geometry.types import SIDES, Floats, Side
from housingdesk.proof.measured import Measured
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
    return min(sum(_free_mm(subject, side, at, way * across, _UP) for way in (1.0, -1.0)) for at in places)


def _reach_mm(subject: Subject, channel: Channel, side: Side) -> float:
    """Return how far a half's hump is from the channel's axis."""
    up = _UP if side == "upper" else -_UP
    assert channel.hold_mm is not None
    return _free_mm(subject, side, np.array(channel.hold_mm), up, np.array(channel.across))


def _free_mm(subject: Subject, side: Side, at: Floats, way: Floats, beside: Floats) -> float:
    """Return how far it is from a place to a half, in a section by the plane of two directions."""
    least = np.inf
    for line in section(subject.halves[side], at, way, beside):
        a, b = line.points, np.roll(line.points, -1, axis=0)
        crosses = (a[:, 1] >= 0) != (b[:, 1] >= 0)
        a, b = a[crosses], b[crosses]
        ahead = a[:, 0] - a[:, 1] * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        least = min(least, float(ahead[ahead > 0].min(initial=np.inf)))
    return least
