"""What a feature makes: bodies to add and to cut for each half, and what to tell about them."""

from __future__ import annotations

from dataclasses import dataclass, field

from housingdesk.features.records import (
    BillLine,
    Channel,
    Contact,
    Cushion,
    Fastener,
    Joint,
    OpeningRecord,
    Seat,
)
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Side


@dataclass(frozen=True, slots=True)
class Handle:
    """A knob on the bench by which a feature is dragged.

    Attributes
    ----------
    key : what ``Feature.moved`` is told.
    at_mm : (3,) build frame.
    normal : the drag stays in the plane through ``at_mm`` with this normal.
    label : a few words for the tooltip.
    on : the half that it goes with when that is lifted off; None goes by its height.
    """

    key: str
    at_mm: tuple[float, float, float]
    normal: tuple[float, float, float] = (0.0, 0.0, 1.0)
    label: str = ""
    on: Side | None = None


@dataclass(frozen=True, eq=False)
class Work:
    """Bodies and words of one feature, in the build frame.

    The order of cutting: outside form + ``stands`` + ``add``, less cavities and passages, + ``pads``, less
    ``carved`` and ``cut``.

    Attributes
    ----------
    stands : as ``add``, for both halves: each gets what lies on its side of the plane.  Give the same bodies
        again while the plane moves (``Site.once``), and they are joined only once.
    add : material that the cavity still takes its share of (bosses, ears, feet).
    pads : material that stands into the cavity on purpose (crush ribs).
    soft : foam or tape that holds the part and is not printed; it counts when play is measured.
    carved : as ``cut``, from both halves, and only from what does not depend on the plane (letters).
    cut : holes, pockets, grooves.
    needs : bodies that must stay solid around holes, for the check of pairs that collide.
    keep_out : bodies nothing of another feature may enter (a screw's head and shank, a wire).
    holds : whether it keeps the two halves together.
    bought : bearings and the like as they lie in the finished housing; drawn, never printed.
    in_view : room before words and marks that nothing of another feature may cover.
    """

    stands: tuple[Solid, ...] = ()
    add: dict[Side, tuple[Solid, ...]] = field(default_factory=dict)
    pads: dict[Side, tuple[Solid, ...]] = field(default_factory=dict)
    soft: dict[Side, tuple[Solid, ...]] = field(default_factory=dict)
    carved: tuple[Solid, ...] = ()
    cut: dict[Side, tuple[Solid, ...]] = field(default_factory=dict)
    needs: tuple[Solid, ...] = ()
    keep_out: tuple[Solid, ...] = ()
    in_view: tuple[Solid, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    openings: tuple[OpeningRecord, ...] = ()
    channels: tuple[Channel, ...] = ()
    seats: tuple[Seat, ...] = ()
    bought: tuple[Solid, ...] = ()
    joints: tuple[Joint, ...] = ()
    contacts: tuple[Contact, ...] = ()
    cushions: tuple[Cushion, ...] = ()
    bill: tuple[BillLine, ...] = ()
    findings: tuple[Finding, ...] = ()
    handles: tuple[Handle, ...] = ()
    holds: bool = False

    @property
    def added(self) -> tuple[Solid, ...]:
        """All material that is added to the form."""
        return (*self.stands, *(s for group in self.add.values() for s in group))

    @property
    def taken(self) -> tuple[Solid, ...]:
        """All that is cut, some of it perhaps twice."""
        return (*self.carved, *(s for group in self.cut.values() for s in group))
