"""Dowels: pins of one half in sockets of the other, so that they meet in one place only."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features import places as ground
from housingdesk.features.feature import Station
from housingdesk.features.hardware import AROUND_MM
from housingdesk.features.places import Place
from housingdesk.features.records import BillLine, Joint
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Side
from housingdesk.standards.fits import fit_preset
from housingdesk.standards.pins import Pin, pins

ROOT_MM = 0.5  # a printed pin reaches so deep into its half, so that both become one
TIP_MM = 0.4  # chamfer at a printed pin's tip, and room beyond every pin (own choice)
WEAK_MM = 3.0  # printed pins thinner than this break (arti90.com, layer-one.com.au)


class Dowels(ground.ManyPlaces):
    """Two or more pins across the parting plane."""

    TITLE: ClassVar[str] = "Dowels"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Line the halves up by {count} {pins} pin|pins {diameter_mm} thick that reach {height_mm} into the "
        "{socket_in} half."
    )
    THING: ClassVar[str] = "Dowel"
    ORDER: ClassVar[int] = 65

    kind: Literal["dowels"] = "dowels"
    pins: Literal["printed", "steel"] = Field(
        default="printed", title="kind of pin",
        description="Printed pins cost nothing; steel ones are rounder and do not break.",
    )  # fmt: skip
    count: int = Field(default=2, ge=1, le=6, title="number of dowels",
                       description="Two, far apart, keep the halves from turning.")  # fmt: skip
    diameter_mm: float = Field(default=4.0, ge=2, le=8, title="diameter of the pins",
                               description="Printed pins under 3 mm break.")  # fmt: skip
    height_mm: float = Field(default=4.0, ge=1, le=20, title="height of the pins",
                             description="About as high as thick: higher jams, lower slips out.")  # fmt: skip
    gap_mm: float = Field(default=0.1, ge=0.02, le=1, title="room around the pins",
                          description="On each side; 0.1 is snug on most filament printers.")  # fmt: skip
    socket_in: Literal["upper", "lower"] = Field(
        default="upper", title="half with the sockets", description="The pins stand on the other half."
    )
    places_mm: tuple[Place, ...] = Field(
        default=(), max_length=6, title="places of the dowels",
        description="Empty: chosen by the program at every change. Drag a dowel to keep all where they are.",
    )  # fmt: skip

    @classmethod
    def proposed(cls, site: Site) -> Self:
        """Propose two printed pins with the room that fits snugly."""
        return cls(gap_mm=fit_preset("filament", "snug").clearance_mm)

    def knob_half(self) -> Side:
        """Return the half that the pins stand on."""
        return "lower" if self.socket_in == "upper" else "upper"

    def build(self, site: Site) -> Work:
        """Make pins and sockets, and ears where the form has no room."""
        around = (self.diameter_mm + site.hole_extra_mm) / 2 + self.gap_mm + AROUND_MM
        clear = ground.blocked(site)
        chosen = ground.settle(site, clear, self.places_mm, self.count, around)
        if not chosen:
            raise SpecError("There is no room for a dowel beside the part; make the sides reach further out.")
        pin = self._steel() if self.pins == "steel" else None
        self._check_depth(site, pin)
        for number, place in enumerate(chosen, 1):
            if ground.least_distance(clear, place) < around - AROUND_MM or ground.inside(clear, place):
                raise SpecError(f"Dowel {number} runs into the cavity or an opening; drag it elsewhere.")
        ears = [e for p in chosen if (e := ground.ear(site, p, around)) is not None]
        return self._work(site, chosen, ears, pin, around)

    def _steel(self) -> Pin:
        for pin in pins().values():
            if abs(pin.diameter_mm - self.diameter_mm) < 1e-6:
                return pin
        sizes = ", ".join(f"{p.diameter_mm:g}" for p in pins().values())
        raise SpecError(f"Steel pins are {sizes} mm thick; choose one of these.")

    def _depths(self, pin: Pin | None) -> tuple[float, float, float]:
        """Return how deep the socket is, how deep the pin's own hole (0 printed), and the pin's length."""
        if pin is None:
            return self.height_mm + TIP_MM, 0.0, self.height_mm
        long = min(pin.lengths_mm, key=lambda n: abs(n - 2 * self.height_mm))
        return long / 2 + TIP_MM, long / 2 + TIP_MM, long

    def _check_depth(self, site: Site, pin: Pin | None) -> None:
        own = self.knob_half()
        socket, hole, _ = self._depths(pin)
        for side, deep in ((self.socket_in, socket), (own, hole)):
            room = abs(site.base_z_mm(side) - site.parting_z_mm) - AROUND_MM
            if deep > room:
                raise SpecError(
                    f"The {side} half is too low for pins that go {deep:.1f} mm into it; there are "
                    f"{max(room, 0):.1f} mm."
                )

    def _work(
        self, site: Site, chosen: list[Place], ears: list[Solid], pin: Pin | None, around: float
    ) -> Work:
        z, up = site.parting_z_mm, 1.0 if self.socket_in == "upper" else -1.0
        own: Side = "lower" if up > 0 else "upper"
        socket, hole, long = self._depths(pin)
        wide = self.diameter_mm + 2 * self.gap_mm + site.hole_extra_mm
        grip = self.diameter_mm + site.hole_extra_mm  # a steel pin is pressed into its own half
        add: dict[Side, tuple[Solid, ...]] = {}
        cut: dict[Side, tuple[Solid, ...]] = {
            self.socket_in: tuple(_bar(p, z - up * ROOT_MM, z + up * socket, wide, hole=True) for p in chosen)
        }
        if pin is None:
            drawn = site.drawn_mm(self.diameter_mm, room_mm=(wide - self.diameter_mm) / 2)
            add[own] = tuple(_printed(p, z, up, drawn, self.height_mm) for p in chosen)
        else:
            cut[own] = tuple(_bar(p, z + up * ROOT_MM, z - up * hole, grip, hole=True) for p in chosen)
        figures = {
            "diameter_mm": self.diameter_mm,
            "height_mm": long if pin is None else long / 2,
            "gap_mm": self.gap_mm,
            "socket_mm": wide,
            "socket_depth_mm": socket,
            "hole_correction_mm": site.hole_extra_mm,
        } | ({"outside_correction_mm": site.outside_extra_mm} if pin is None else {})
        return Work(
            stands=tuple(ears),
            add=add,
            cut=cut,
            needs=tuple(_bar(p, z, z + up * (socket + AROUND_MM), 2 * around) for p in chosen)
            + tuple(_bar(p, z - up * max(hole, ROOT_MM), z, 2 * around) for p in chosen),
            keep_out=tuple(_bar(p, z - up * hole, z + up * socket, wide) for p in chosen if pin is not None),
            joints=tuple(
                Joint(f"{self.name} {i}", "dowel", figures | {"x_mm": p[0], "y_mm": p[1]})
                for i, p in enumerate(chosen, 1)
            ),
            bill=() if pin is None else (
                BillLine(len(chosen), f"parallel pin {self.diameter_mm:g} x {long:g}", "ISO 2338",
                         "placing the halves"),
            ),
            findings=self._judged(len(chosen), pin),
            handles=self.knobs_at(site, chosen),
        )  # fmt: skip

    def _judged(self, count: int, pin: Pin | None) -> tuple[Finding, ...]:
        out = []
        if count < self.count:
            out.append(
                Finding("dowel-count", "caution", f"There is room for {count} of {self.count} dowels.",
                        "Let the sides reach further out, or take thinner ones.")
            )  # fmt: skip
        if pin is None and self.diameter_mm < WEAK_MM:
            out.append(
                Finding("dowel-thin", "caution", f"Printed pins of {self.diameter_mm:.1f} mm break easily.",
                        f"Make them {WEAK_MM:g} mm thick or more, or take steel pins.")
            )  # fmt: skip
        return tuple(out)


def _bar(place: Place, one_z_mm: float, other_z_mm: float, wide_mm: float, *, hole: bool = False) -> Solid:
    return Solid.rod((*place, one_z_mm), (*place, other_z_mm), wide_mm / 2, outside=hole)


def _printed(place: Place, z_mm: float, up: float, wide_mm: float, high_mm: float) -> Solid:
    """Return a pin with a chamfered tip, rooted in its half."""
    r, tip = wide_mm / 2, z_mm + up * high_mm
    root, shoulder = z_mm - up * ROOT_MM, tip - up * min(TIP_MM, high_mm / 2)
    profile = [(0, root), (r, root), (r, shoulder), (r - TIP_MM, tip), (0, tip)]
    return Solid.turned(*place, profile)
