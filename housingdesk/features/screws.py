"""Screws that close the housing: places, lengths, holes for head, shank and thread."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import product
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features import places as ground
from housingdesk.features.feature import Station
from housingdesk.features.hardware import RECORD_KIND, Hardware, Head, Holds, HoleFit, hardware
from housingdesk.features.places import Place
from housingdesk.features.records import BillLine, Fastener
from housingdesk.features.screw_holes import cut_head, cut_thread, kept_free, kept_solid
from housingdesk.features.site import Site, Unparted
from housingdesk.features.stack import Stack, stack
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Side
from housingdesk.model import OnlyIf
from housingdesk.standards.screws import SIZES, ScrewSize

THIN_MM = 0.8  # two lines of a 0.4 mm nozzle: thinner does not print (shop guidance, check-values 4a)
SLACK_MM = 0.05
FITTING: tuple[Holds, ...] = ("heat-set inserts", "printed threads", "nuts dropped in", "nuts outside")
LARGE = (
    0.25  # of the housing seen from above: bosses that add more are grotesque (common practice, no source)
)
SLIM = 0.3  # of the housing's shorter side: a boss so wide still leaves a wall between two (own choice)
MISFITS = ("screw-length", "screw-thread")  # findings for which another hold is tried


@dataclass(frozen=True, eq=False)
class Screw:
    """One screw where it stands.

    Attributes
    ----------
    place : (x, y) of its axis.
    up : +1 where the head is above, -1 where it is below.
    parting_z_mm, head_z_mm, thread_z_mm : heights of the plane and of the outer faces of both halves.
    """

    place: Place
    up: float
    parting_z_mm: float
    head_z_mm: float
    thread_z_mm: float
    kit: Hardware
    stack: Stack
    least_wall_mm: float

    @property
    def seat_z_mm(self) -> float:
        """Height of the seat of the head."""
        return self.head_z_mm - self.up * self.stack.seat_mm

    @property
    def tip_z_mm(self) -> float:
        """Height of the screw's tip."""
        return self.parting_z_mm - self.up * self.stack.reach_mm

    def record(self) -> Fastener:
        """Return the line of the proof document."""
        x, y = self.place
        return Fastener(
            size=self.kit.size,
            kind=RECORD_KIND[self.kit.holds],
            axis_mm=((x, y, self.seat_z_mm), (x, y, self.tip_z_mm)),
            clear_hole_mm=self.kit.clear_mm,
            pilot_or_insert_hole_mm=self.kit.thread_mm,
            head_hole_mm=self.kit.head_mm,
            head_depth_mm=self.kit.head_deep_mm if self.kit.cone else max(self.stack.seat_mm, 0.0),
            length_mm=self.stack.length_mm,
            engagement_mm=self.stack.engagement_mm,
            least_wall_mm=self.least_wall_mm,
            hole_correction_mm=self.kit.extra_mm,
        )


class Screws(ground.ManyPlaces):
    """Screws through one half into the other."""

    TITLE: ClassVar[str] = "Screws"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Close it with {count} screw|screws {size} (length: {length_mm}), held by {holds}; "
        "{head} heads, [{seat},] from {head_from}."
    )
    THING: ClassVar[str] = "Screw"
    ORDER: ClassVar[int] = 60

    ONLY_IF: ClassVar[OnlyIf] = {"seat": {"head": ("cap", "button")}}

    kind: Literal["screws"] = "screws"
    size: ScrewSize = Field(
        default="M3", title="size", description="M3 suits most housings up to a hand's size."
    )
    count: int = Field(
        default=4, ge=1, le=16, title="number of screws",
        description="One at each corner; more along the long sides keep a long edge shut.",
    )  # fmt: skip
    length_mm: float | None = Field(
        default=None, ge=3, le=60, title="length of the screws",
        description="As needed: a length that is sold and whose thread holds, with the head sunk as little "
        "as possible.",
    )  # fmt: skip
    holds: Holds | Literal["whatever fits"] = Field(
        default="whatever fits", title="what holds the screws",
        description="Inserts and nuts can be opened again and again, printed threads only a few times.",
    )  # fmt: skip
    head: Head = Field(
        default="cap", title="heads",
        description="Cap heads press flat on the plastic; countersunk ones wedge it apart when tightened "
        "too far.",
    )  # fmt: skip
    seat: Literal["sunk", "proud"] = Field(
        default="sunk", title="seat of the heads",
        description="Sunk heads lie below the face; countersunk ones are always flush.",
    )  # fmt: skip
    head_from: Literal["above", "below"] = Field(
        default="above", title="side of the heads", description="From which side the screwdriver comes."
    )
    hole: HoleFit = Field(
        default="medium", title="fit of the holes",
        description="ISO 273: fine for exact places, coarse where the halves must find each other.",
    )  # fmt: skip
    places_mm: tuple[Place, ...] = Field(
        default=(), max_length=16, title="places of the screws",
        description="Empty: chosen by the program at every change. Drag a screw to keep all where they are.",
    )  # fmt: skip

    @classmethod
    def proposed(cls, site: Site) -> Self:
        """Propose four screws, six on a long housing, smaller ones on a small or narrow one."""
        x, y, _ = (site.outer_mm[1] - site.outer_mm[0]).tolist()
        usual: ScrewSize = "M2" if max(x, y) < 35 else "M3" if max(x, y) < 160 else "M4"
        return cls(
            size=suited(site, usual), count=6 if max(x, y) > 120 and max(x, y) > 1.5 * min(x, y) else 4
        )

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self:
        """Propose one screw where the user clicked."""
        x, y, _ = point_mm.tolist()
        return cls(count=1, places_mm=((x, y),), head_from="below" if normal[2] < -0.5 else "above")

    def knob_z_mm(self, site: Site) -> float:
        """Return the height of the face that the heads are in."""
        return site.base_z_mm(self.sides()[0])

    def build(self, site: Site) -> Work:
        """Make the holes, and ears where the form has no room."""
        if self.holds != "whatever fits":
            return self._built(site, ground.blocked(site), self.holds, self.seat)
        taken = ground.blocked(site)
        refusal: SpecError | None = None
        for seat, holds in product(dict.fromkeys((self.seat, "proud")), FITTING):
            try:
                work = self._built(site, taken, holds, seat)
            except SpecError as error:
                refusal = refusal or error
                continue
            if not any(f.code in MISFITS for f in work.findings):
                return work
        raise refusal or SpecError("Screws of this size find no hold here; take smaller ones, or place them.")

    def _built(self, site: Site, taken: Outline, holds: Holds, seat: str) -> Work:
        kit = hardware(
            self.size, holds, self.head, seat == "sunk", self.hole, site.material, site.hole_extra_mm
        )
        radius = kit.boss_radius_mm
        chosen = ground.settle(site, taken, self.places_mm, self.count, radius)
        if not chosen:
            raise SpecError("There is no room for a screw beside the part; make the sides reach further out.")
        findings = [] if len(chosen) == self.count else [self._fewer(len(chosen))]
        # Beside what is sunk into an ear its broken edge leaves two lines of a nozzle.
        beside = max(kit.head_radius_mm, kit.nut_radius_mm) + site.broken_mm + ground.THIN_MM
        ears = {p: e for p in chosen if (e := ground.ear(site, p, max(radius, beside))) is not None}
        made, refused = self._screws(site, taken, kit, chosen, ears)
        findings += refused
        if not made:
            raise SpecError(refused[0].message)
        findings += self._too_large(site, made, ears)
        findings += _judged(self.name, kit, made, site.material)
        work = self._work(site, taken, kit, made, ears, findings)
        heights = {s.place: s.head_z_mm for s in made}  # those that cannot stand keep their knobs, too
        return replace(work, handles=self.knobs_at(site, chosen, heights))

    def _screws(
        self, site: Site, clear: Outline, kit: Hardware, chosen: list[Place], ears: dict[Place, Solid]
    ) -> tuple[list[Screw], list[Finding]]:
        """Return the screws that can stand, and a finding for each that cannot."""
        made, refused = [], []
        outline = _outline(site, ears.values())
        for number, place in enumerate(chosen, 1):
            rest = max(kit.head_rest_mm, kit.nut_rest_mm) / 2
            around = max(kit.head_radius_mm, kit.nut_flats_mm / 3**0.5, rest)
            found = site.once(_floor_and_roof, site.form, ears.get(place), place, around)
            x, y = place
            where = (x, y, site.parting_z_mm)
            if found is None or clear.touches(Outline.circle(place, kit.clear_mm / 2)):
                refused.append(
                    Finding("screw-place", "fail", f"Screw {number} of {self.name} misses the housing, or "
                            "runs into the cavity or an opening.", "Drag it elsewhere.", where)
                )  # fmt: skip
                continue
            up = 1.0 if self.head_from == "above" else -1.0
            floor, roof = found
            head_z, thread_z = (roof, floor) if up > 0 else (floor, roof)
            z = site.parting_z_mm
            try:
                heights = stack(kit, abs(head_z - z), abs(thread_z - z), site.wall_mm, self.length_mm)
            except SpecError as error:
                refused.append(
                    Finding("screw-length", "fail", str(error), "Or move the parting plane.", where)
                )
                continue
            room = min(ground.least_distance(outline, place), ground.least_distance(clear, place))
            widest = max(kit.head_radius_mm, kit.thread_mm / 2, kit.nut_radius_mm)
            made.append(Screw(place, up, z, head_z, thread_z, kit, heights, room - widest))
        return made, refused

    def _too_large(self, site: Site, made: list[Screw], ears: dict[Place, Solid]) -> list[Finding]:
        """Return a caution where the bosses are large beside the housing that they close."""
        bare = site.form.section_at(site.parting_z_mm).area_mm2
        added = _outline(site, (ears[s.place] for s in made if s.place in ears)).area_mm2 / bare - 1.0
        if added <= LARGE:
            return []
        smaller = SIZES[: SIZES.index(self.size)]
        fit = f"Take {suited(site, smaller[-1])}" if smaller else "Take fewer of them"
        return [
            Finding(
                "screw-size",
                "caution",
                f"{self.size} is large for this housing: the material around the screws makes it "
                f"{100 * added:.0f} % larger, seen from above.",
                f"{fit}, or let the sides reach further out, so that they stand inside.",
                (*made[0].place, site.parting_z_mm),
            )
        ]

    def _fewer(self, count: int) -> Finding:
        return Finding(
            "screw-count",
            "caution",
            f"There is room for {count} of {self.count} screws.",
            "Let the sides reach further out, or take smaller screws.",
        )

    def _work(
        self,
        site: Site,
        taken: Outline,
        kit: Hardware,
        made: list[Screw],
        ears: dict[Place, Solid],
        findings: list[Finding],
    ) -> Work:
        head, thread = self.sides()
        rooted = [ears[s.place] for s in made if s.place in ears]
        low, high = _reach_of(site, rooted)
        ends = {"upper": high, "lower": low}
        around = taken | Outline.union(Outline.circle(s.place, kit.boss_radius_mm) for s in made)
        outline = _outline(site, ears.values())
        cuts: dict[Side, tuple[Solid, ...]] = {
            head: tuple(cut_head(s, ends[head]) for s in made),
            thread: tuple(cut_thread(s, ends[thread], outline, around) for s in made),
        }
        return Work(
            stands=tuple(rooted),
            cut=cuts,
            needs=tuple(body for s in made for body in kept_solid(s)),
            keep_out=tuple(body for s in made for body in kept_free(s, ends[head])),
            fasteners=tuple(s.record() for s in made),
            bill=_bill(kit, made),
            findings=tuple(findings),
            holds=True,
        )

    def sides(self) -> tuple[Side, Side]:
        """Return which half has the heads, and which the threads."""
        return ("upper", "lower") if self.head_from == "above" else ("lower", "upper")


def suited(site: Site, most: ScrewSize) -> ScrewSize:
    """Return the largest size up to ``most`` whose bosses are slim beside the housing, else the smallest."""
    narrow = float((site.outer_mm[1] - site.outer_mm[0])[:2].min())
    fitting = [s for s in SIZES[: SIZES.index(most) + 1] if 2 * _boss_mm(s, site) <= SLIM * narrow]
    return fitting[-1] if fitting else SIZES[0]


def _boss_mm(size: ScrewSize, site: Site) -> float:
    """Return the radius of a usual boss: a sunk cap head over a printed thread."""
    kit = hardware(size, "printed threads", "cap", True, "medium", site.material, site.hole_extra_mm)
    return kit.boss_radius_mm


def _outline(site: Site, ears: Iterable[Solid]) -> Outline:
    """Return the outside's section at the parting plane, ears included."""
    z = site.parting_z_mm
    return Outline.union([site.form.section_at(z), *(ear.section_at(z) for ear in ears)])


def _floor_and_roof(
    _housing: Unparted, form: Solid, ear: Solid | None, place: Place, radius_mm: float
) -> tuple[float, float] | None:
    """Return the heights between which the form with an ear is solid about a place; None where it is not."""
    disc = Outline.circle(place, radius_mm)
    low, high = form.bounds + np.array([[-1.0], [1.0]])
    low[:2], high[:2] = disc.bounds + np.array([[-1.0], [1.0]])
    near = form & Solid.box(low, high)
    return ground.faces(near if ear is None else near | ear, disc)


def _reach_of(site: Site, ears: list[Solid]) -> tuple[float, float]:
    """Return heights that lie outside everything that may stand before a head: feet and the like."""
    bodies = [site.form, *ears, *(s for w in site.done.values() for s in w.added)]
    boxes = [b.bounds for b in bodies if not b.is_empty]
    return min(float(b[0, 2]) for b in boxes) - 1.0, max(float(b[1, 2]) for b in boxes) + 1.0


def _judged(name: str, kit: Hardware, made: list[Screw], material: str) -> list[Finding]:
    """Return what has to be known before it is printed."""
    out = []
    for number, screw in enumerate(made, 1):
        where = (*screw.place, screw.parting_z_mm)
        needed = kit.boss_radius_mm - max(kit.head_radius_mm, kit.thread_mm / 2, kit.nut_radius_mm)
        if screw.least_wall_mm < needed - SLACK_MM:
            thin = screw.least_wall_mm < THIN_MM
            out.append(
                Finding("screw-wall", "fail" if thin else "caution",
                        f"Screw {number} of {name} has {max(screw.least_wall_mm, 0):.1f} mm of material "
                        f"around it, {needed:.1f} needed.", "Drag it away from cavity and edge.", where)
            )  # fmt: skip
    least = min(made, key=lambda s: s.stack.engagement_mm)
    if kit.holds == "printed threads" and least.stack.engagement_mm < kit.grip_mm - SLACK_MM:
        out.append(
            Finding("screw-thread", "caution", f"{least.stack.engagement_mm:.1f} mm of printed thread hold, "
                    f"{kit.grip_mm:.1f} are advised.", "Part the housing elsewhere, or take inserts or nuts.",
                    (*least.place, least.parting_z_mm))
        )  # fmt: skip
    if kit.borrowed:
        out.append(
            Finding("screw-plastic", "caution", f"No figures are known for printed threads in {material}; "
                    "those of PLA are taken.", "Try one screw in a test print, or take inserts or nuts.")
        )  # fmt: skip
    if kit.holds == "heat-set inserts":
        out.append(
            Finding("screw-care", "caution", "Inserts are pressed in with a hot iron.",
                    "Hold them with tweezers, air the room, and let them cool before you touch them.")
        )  # fmt: skip
    else:
        out.append(
            Finding("screw-care", "caution", "Plastic under a tight screw gives way in time.",
                    "Tighten by hand until it just holds, and once more after a day.")
        )  # fmt: skip
    return out


def _bill(kit: Hardware, made: list[Screw]) -> tuple[BillLine, ...]:
    groups = Counter((s.stack.length_mm, s.stack.insert_mm) for s in made)
    return tuple(
        line for (length, insert), n in sorted(groups.items()) for line in kit.bill(n, length, insert)
    )
