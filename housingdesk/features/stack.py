"""How long a screw must be, how deep its head lies and how much of it holds; heights in mm from the parting.

Along the screw: outer face of the head's half, seat of the head, parting plane, thread, hole's bottom, outer
face of the other half.  ``reach`` is how far the screw goes beyond the parting plane.
"""

from __future__ import annotations

from dataclasses import dataclass

from housingdesk.errors import SpecError
from housingdesk.features.hardware import INSERT_ROOM_MM, TIP_MM, Hardware
from housingdesk.standards.screws import screw_lengths

LEAST_HOLD = 1.0  # of d: less thread in plastic is refused (own choice; published is 2 d and more)
UNDER_HEAD = 0.6  # of d: least material under a head, and under a nut's pull (own choice)
UNDER_HEAD_MM = 1.6


@dataclass(frozen=True, slots=True)
class Stack:
    """One screw's heights.

    Attributes
    ----------
    length_mm : nominal.
    seat_mm : from the outer face in to the seat of the head (a cone's is the face itself); less than 0
        where a washer lies under the head.
    reach_mm : tip beyond the parting plane.
    hole_mm : depth of the thread's hole from the parting plane.
    insert_mm : length of the insert, 0 without.
    nut_mm : from the parting plane to the face the nut pulls against.
    engagement_mm : of thread that holds.
    """

    length_mm: float
    seat_mm: float
    reach_mm: float
    hole_mm: float
    insert_mm: float
    nut_mm: float
    engagement_mm: float


def stack(
    kit: Hardware, head_room_mm: float, thread_room_mm: float, floor_mm: float, asked_mm: float | None = None
) -> Stack:
    """Choose a screw's length and the depth of its head.

    Parameters
    ----------
    head_room_mm, thread_room_mm : from the parting plane to the outer faces.
    floor_mm : least material to leave under a blind hole.
    asked_mm : the length where the user has chosen it.

    Raises
    ------
    SpecError : no screw on sale fits, or the one asked does not.
    """
    under = max(UNDER_HEAD_MM, UNDER_HEAD * kit.diameter_mm)
    insert = _insert(kit, thread_room_mm, floor_mm)
    least, most = _reaches(kit, thread_room_mm, floor_mm, insert, under)
    shallow = 0.0 if kit.cone else kit.head_deep_mm - kit.washer_at_head_mm
    taken = kit.head_deep_mm + under
    if head_room_mm < taken:
        raise SpecError(
            f"The half with the heads is {head_room_mm:.1f} mm high, and a head with material under it needs "
            f"{taken:.1f}; part the housing elsewhere, or turn the screws round."
        )
    deepest = shallow if kit.cone or kit.head_mm == 0 else head_room_mm - under
    offered = screw_lengths() if asked_mm is None else (asked_mm,)
    best: tuple[float, float] | None = None
    for length in offered:
        seat = shallow + max(0.0, least - (length - head_room_mm + shallow))
        fits = length - head_room_mm + seat <= most + 1e-9 and seat <= deepest + 1e-9
        # The shallowest seat wins; among equals the shorter screw, which comes first.
        if fits and (best is None or seat < best[1] - 1e-9):
            best = (length, seat)
    if best is None:
        raise SpecError(_no_length(kit, head_room_mm - shallow, least, most, deepest - shallow, asked_mm))
    length, seat = best
    return _settled(kit, length, seat, length - head_room_mm + seat, thread_room_mm, insert, under)


def _insert(kit: Hardware, room_mm: float, floor_mm: float) -> float:
    """Return the longest insert that fits, or 0 where none is wanted."""
    if kit.holds != "heat-set inserts":
        return 0.0
    fitting = [n for n in kit.insert_long_mm if n + INSERT_ROOM_MM + floor_mm <= room_mm + 1e-9]
    if not fitting:
        needed = min(kit.insert_long_mm) + INSERT_ROOM_MM + floor_mm
        raise SpecError(
            f"A heat-set insert {kit.size} needs {needed:.1f} mm of height with the material under it, and "
            f"there are {room_mm:.1f}; part the housing elsewhere, or take smaller screws."
        )
    return max(fitting)


def _reaches(
    kit: Hardware, room_mm: float, floor_mm: float, insert_mm: float, under_mm: float
) -> tuple[float, float]:
    """Return the least and the greatest reach."""
    blind = room_mm - floor_mm - TIP_MM
    nut = kit.nut_high_mm + kit.pitch_mm
    if kit.holds == "heat-set inserts":
        return insert_mm, blind
    if kit.holds == "nuts dropped in":
        return under_mm + nut, room_mm
    if kit.holds == "nuts slid in":
        return under_mm + kit.nut_deep_mm + kit.pitch_mm, blind
    if kit.holds == "nuts outside":
        past = room_mm + kit.washer_at_nut_mm + nut
        return past, past + 5.0
    wanted = kit.grip_mm + kit.relief_mm
    barely = LEAST_HOLD * kit.diameter_mm + kit.relief_mm
    return (wanted if blind >= wanted else max(barely, blind - 1.0)), blind


def _settled(
    kit: Hardware,
    length: float,
    seat: float,
    reach: float,
    room: float,
    insert: float,
    under: float,
) -> Stack:
    nut, hole, holds = 0.0, reach + TIP_MM, reach - kit.relief_mm
    if kit.holds == "heat-set inserts":
        hole, holds = insert + INSERT_ROOM_MM, min(insert, reach)
    elif kit.thread_mm == 0.0:
        holds = kit.nut_high_mm
        if kit.holds == "nuts outside":
            nut = hole = room
        else:
            nut = max(under, reach - kit.nut_deep_mm - kit.pitch_mm)
            if kit.holds == "nuts dropped in":
                nut = min(max(under, reach - kit.nut_high_mm - kit.pitch_mm), room - kit.nut_deep_mm)
    return Stack(length, seat, reach, hole, insert, nut, holds)


def _no_length(
    kit: Hardware, grip: float, least: float, most: float, sink: float, asked: float | None
) -> str:
    if most < least:
        return (
            f"There is room for {max(most - kit.relief_mm, 0.0):.1f} mm of thread and {kit.size} needs "
            f"{least - kit.relief_mm:.1f}; part the housing elsewhere, or take smaller screws."
        )
    shortest, longest = max(grip + least - sink, 0.0), grip + most
    if asked is not None:
        return (
            f"A screw {kit.size} x {asked:g} does not fit here: it must be between {shortest:.1f} and "
            f"{longest:.1f} mm long."
        )
    return (
        f"No screw {kit.size} on sale is between {shortest:.1f} and {longest:.1f} mm long; move the parting "
        "plane a little."
    )
