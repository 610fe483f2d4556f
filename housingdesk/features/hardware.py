"""A screw with its head, holes and what holds it, looked up once in the tables; lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from housingdesk.errors import SpecError
from housingdesk.features.records import BillLine
from housingdesk.standards import screws as tables
from housingdesk.standards.fits import fit_preset
from housingdesk.standards.screws import ScrewSize

Holds = Literal["printed threads", "heat-set inserts", "nuts dropped in", "nuts slid in", "nuts outside"]
HOLDS: tuple[Holds, ...] = get_args(Holds)
Head = Literal["cap", "button", "countersunk"]
HoleFit = Literal["fine", "medium", "coarse"]

RECORD_KIND: dict[Holds, str] = {
    "printed threads": "pilot",
    "heat-set inserts": "insert",
    "nuts dropped in": "nut",
    "nuts slid in": "nut",
    "nuts outside": "through",
}
AROUND_MM = 1.2  # three lines of a 0.4 mm nozzle around a plain hole (shop guidance, check-values 4a)
SUNK_MM = 0.3  # a sunk head lies so much below the face (own choice)
TIP_MM = 1.0  # room beyond a screw's tip in a blind hole (own choice)
INSERT_ROOM_MM = 1.0  # hole deeper than the insert is long (secam-fixing.com)
INSERT_LESS_MM = 0.5  # the tabulated pocket is deeper than the insert is long (tools.creative3dp.com)
INSERT_WALL = 0.45  # of the hole, where the table has no wall: what its other sizes come to (own choice)
RELIEF_DEEP, RELIEF_WIDE = (
    0.25,
    1.05,
)  # of d: relief at a pilot's mouth (celofasteners.com, 0.25-0.5, 1.05-1.1)
FALLBACK_PLASTIC = "PLA"


@dataclass(frozen=True, slots=True)
class Hardware:
    """What a screw of one size and kind needs; diameters as modelled, with the printer's correction.

    Attributes
    ----------
    clear_mm : hole it passes freely.
    head_mm : hole for its head, or the rim of its cone; 0 where it stands proud.
    head_outside_mm : diameter of the head itself.
    washer_outside_mm, washer_high_mm : of the washer of this size, whether or not one is wanted.
    head_deep_mm : from the face to the seat where the head is sunk no deeper than needed.
    cone : whether the head is a 90 degree cone; its length is then measured from the face.
    thread_mm : pilot or insert hole; 0 for nuts.
    around_mm : needed material around the thread hole.
    insert_long_mm : lengths of inserts on sale.
    nut_flats_mm, nut_deep_mm : pocket for a nut, its room included; ``nut_high_mm`` the nut itself.
    grip_mm : thread that should hold; for nuts the nut.
    extra_mm : the printer's correction that all holes have.
    borrowed : whether the plastic has no figures of its own.
    """

    size: ScrewSize
    holds: Holds
    diameter_mm: float
    pitch_mm: float
    clear_mm: float
    head_mm: float
    head_outside_mm: float
    washer_outside_mm: float
    washer_high_mm: float
    head_deep_mm: float
    cone: bool
    thread_mm: float
    around_mm: float
    insert_long_mm: tuple[float, ...]
    nut_flats_mm: float
    nut_deep_mm: float
    nut_high_mm: float
    grip_mm: float
    standard: str
    head_name: str
    extra_mm: float
    borrowed: bool

    @property
    def head_radius_mm(self) -> float:
        """Of the hole at the outer face."""
        return max(self.head_mm, self.clear_mm) / 2

    @property
    def proud(self) -> bool:
        """Whether the head lies on the outer face; a washer then spreads its pull over the plastic."""
        return self.head_mm == 0.0 and not self.cone

    @property
    def washer_at_head_mm(self) -> float:
        """Height of the washer under the head; 0 without one."""
        return self.washer_high_mm if self.proud else 0.0

    @property
    def washer_at_nut_mm(self) -> float:
        """Height of the washer under a nut outside; 0 without one."""
        return self.washer_high_mm if self.holds == "nuts outside" else 0.0

    @property
    def head_rest_mm(self) -> float:
        """Diameter of what lies at the head: a washer under a proud one, or the head itself."""
        return max(self.head_outside_mm, self.washer_outside_mm if self.proud else 0.0)

    @property
    def nut_rest_mm(self) -> float:
        """Diameter of the room of a nut outside and its washer; 0 where the nut is elsewhere."""
        if self.holds != "nuts outside":
            return 0.0
        return max(self.nut_flats_mm * 2 / 3**0.5 + 1.0, self.washer_outside_mm + 0.5)

    @property
    def nut_radius_mm(self) -> float:
        """Of a nut's pocket over its corners; 0 where there is none."""
        return self.nut_flats_mm / 3**0.5 if self.holds in ("nuts dropped in", "nuts slid in") else 0.0

    @property
    def boss_radius_mm(self) -> float:
        """Hole and needed material together, the widest of head, thread and nut."""
        nut = self.nut_radius_mm
        thread = self.thread_mm / 2 + self.around_mm
        rests = max(self.head_rest_mm, self.washer_outside_mm if self.washer_at_nut_mm else 0.0) / 2
        return max(self.head_radius_mm + AROUND_MM, thread, rests, nut + AROUND_MM if nut else 0.0)

    @property
    def relief_mm(self) -> float:
        """Depth of the widening at a pilot hole's mouth, where the thread does not hold yet."""
        return RELIEF_DEEP * self.diameter_mm if self.holds == "printed threads" else 0.0

    @property
    def relief_wide_mm(self) -> float:
        """Diameter of that widening."""
        return max(RELIEF_WIDE * self.diameter_mm + self.extra_mm, self.thread_mm)

    def bill(self, count: int, length_mm: float, insert_mm: float) -> list[BillLine]:
        """Return what has to be bought for so many screws of one length."""
        purpose = "closing the housing"
        lines = [
            BillLine(count, f"{self.head_name} {self.size} x {length_mm:g}", self.standard, purpose),
        ]
        if self.holds == "heat-set inserts":
            # No standard has them, and makers' holes differ: the hole says which one is meant.
            hole = self.thread_mm - self.extra_mm
            what = f"heat-set insert {self.size}, {insert_mm:g} mm long, for a printed hole of {hole:g} mm"
            lines.append(BillLine(count, what, "", purpose))
        elif self.thread_mm == 0.0:
            lines.append(BillLine(count, f"hexagon nut {self.size}", "ISO 4032", purpose))
        each = (self.washer_at_head_mm > 0) + (self.washer_at_nut_mm > 0)
        return [*lines, washer_line(each * count, self.size, purpose)] if each else lines


def washer_line(count: int, size: str, purpose: str) -> BillLine:
    """Return the line of the parts list for so many plain washers."""
    return BillLine(count, f"plain washer {size}", "ISO 7089", purpose)


def hardware(
    size: ScrewSize, holds: Holds, head: Head, sunk: bool, hole: HoleFit, material: str, extra_mm: float
) -> Hardware:
    """Look a screw up.

    Parameters
    ----------
    extra_mm : added to the diameter of every hole, as this printer's holes come out small.  Not to a
        countersink, which only decides how deep the head lies.

    Raises
    ------
    SpecError : the standard has no such screw.
    """
    thread = tables.threads()[size]
    clear = getattr(tables.clearance_holes()[size], f"{hole}_mm") + extra_mm
    play = 2 * fit_preset("filament", "sliding").clearance_mm
    outside, high, standard, name = _head(size, head)
    cone = head == "countersunk"
    if cone:
        head_hole, deep = outside, (outside - clear) / 2
    else:
        head_hole, deep = (outside + play + extra_mm, high + SUNK_MM) if sunk else (0.0, 0.0)
    rules = tables.pilot_rules()
    rule = rules.get(material, rules[FALLBACK_PLASTIC])
    insert = tables.heat_inserts()[size]
    nut, washer = tables.nuts()[size], tables.washers()[size]
    d = thread.diameter_mm
    hole_mm, around, grip = 0.0, AROUND_MM, nut.height_mm
    if holds == "printed threads":
        hole_mm = rule.pilot * d + extra_mm
        around, grip = (rule.boss * d - hole_mm) / 2, rule.engagement * d
    elif holds == "heat-set inserts":
        hole_mm = insert.hole_mm + extra_mm
        around, grip = insert.wall_mm or INSERT_WALL * insert.hole_mm, 0.0
    return Hardware(
        size=size,
        holds=holds,
        diameter_mm=d,
        pitch_mm=thread.pitch_mm,
        clear_mm=clear,
        head_mm=head_hole,
        head_outside_mm=outside,
        washer_outside_mm=washer.outside_mm,
        washer_high_mm=washer.thickness_mm,
        head_deep_mm=deep,
        cone=cone,
        thread_mm=hole_mm,
        around_mm=around,
        insert_long_mm=tuple(deep - INSERT_LESS_MM for deep in insert.pocket_depths_mm),
        nut_flats_mm=nut.flats_mm + fit_preset("filament", "snug").clearance_mm * 2 + extra_mm,
        nut_deep_mm=nut.height_mm + play,
        nut_high_mm=nut.height_mm,
        grip_mm=grip,
        standard=standard,
        head_name=name,
        extra_mm=extra_mm,
        borrowed=holds == "printed threads" and material not in rules,
    )


def _head(size: ScrewSize, head: Head) -> tuple[float, float, str, str]:
    """Return a head's diameter and height, its standard and what the screw is called."""
    if head == "cap":
        cap = tables.cap_screws()[size]
        return cap.head_knurled_mm, cap.head_height_mm, "ISO 4762", "socket head cap screw"
    if head == "button":
        button = tables.button_screws().get(size)
        if button is None:
            raise SpecError(
                f"ISO 7380-1 has no button head screw {size}; choose a cap head, or M3 or larger."
            )
        return button.head_mm, button.head_height_mm, "ISO 7380-1", "button head screw"
    socket = tables.countersunk_screws("ISO 10642").get(size)
    if socket is not None:
        return socket.head_mm, socket.head_height_mm, "ISO 10642", "countersunk screw"
    recessed = tables.countersunk_screws("ISO 7046")[size]  # ISO 10642 begins at M3
    return recessed.head_mm, recessed.head_height_mm, "ISO 7046-2", "countersunk screw, cross recess"
