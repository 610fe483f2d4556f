"""Zones: named regions of a part's surface with a purpose and a clearance of their own."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from housingdesk.model import Model

Purpose = Literal["held", "turning", "hot", "open"]
Seat = Literal["plain", "bearing", "bush"]
EndAxis = Literal["own", "x", "y", "z"]
AlongPull = Literal["inside", "out"]
BODY = "body"  # the zone of everything that no other zone names; its clearance is FitSpec.clearance_mm

Point = tuple[float, float, float]


class PatchRef(Model):
    """A flat or round of a part, described so that it is found again, even on another mesh of the same part.

    Attributes
    ----------
    kind, side : as ``geometry.patches.Patch``.
    centre_mm, axis : (3,) in the part frame (file axes, mm).
    size_mm : diameter of a round, length of a flat.
    length_mm : along the axis; width of a flat.
    """

    kind: Literal["flat", "cylinder", "cone"]
    side: Literal["outside", "inside"] = "outside"
    centre_mm: Point
    axis: Point
    size_mm: float = Field(ge=0)
    length_mm: float = Field(ge=0)


class ZoneSpec(Model):
    """A named set of patches.

    Attributes
    ----------
    part : name of the part it lies on.
    purpose : held; turning (a shaft, which gets a way out); hot (air, no contact); open (a connector or
        button, which gets a way through the wall before it).
    clearance_mm : gap around it, a side.
    end_mm : so much more room at its ends along ``end_axis``, so that the part can be shifted in.
    end_axis : the zone's own axis (of its largest round, else across its largest flat), or an axis of the
        part's file.
    seat : what carries a turning zone in the wall.
    bearing : designation of a ball bearing (ISO 15) or plain bush (ISO 2795, its bore) where ``seat`` is one;
        "" for the smallest that fits, "own" for the size in the next three fields.
    bore_mm, outside_mm, width_mm : of a bearing or bush of the user's own; a bore of None is the shaft's.
    mouth_mm : chamfer at the outer mouth of the way out, of a shaft or of what is kept open.
    along_pull : whether a turning zone that lies along the pull comes out of floor or roof, or floor and roof
        reach past its end.
    """

    name: str = Field(min_length=1, max_length=40, title="name of the zone")
    part: str
    purpose: Purpose = "held"
    patches: tuple[PatchRef, ...] = Field(min_length=1, max_length=500, title="list of faces of the zone")
    clearance_mm: float = Field(ge=0, le=20, title="clearance of the zone")
    end_mm: float = Field(default=0.0, ge=0, le=20, title="room at the ends")
    end_axis: EndAxis = "own"
    seat: Seat = "plain"
    bearing: str = ""
    bore_mm: float | None = Field(default=None, gt=0, le=200, title="bore of the bearing")
    outside_mm: float = Field(default=14.0, gt=0, le=300, title="outside of the bearing")
    width_mm: float = Field(default=5.0, gt=0, le=200, title="width of the bearing")
    mouth_mm: float = Field(default=0.6, ge=0, le=5, title="chamfer of the mouth")
    along_pull: AlongPull = "inside"
