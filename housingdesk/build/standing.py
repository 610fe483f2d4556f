"""How turning shafts stand out of the finished housing: of the wall around them, and past all beside them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from housingdesk.build.passages import Passage
from housingdesk.features.opening import face_of
from housingdesk.features.seat import TOO_SHORT
from housingdesk.features.site import Shaft
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.section import section
from housingdesk.geometry.types import Floats, Mesh

MEET_MM3 = 0.5  # passages that share less than this touch
STUB_MM = 2.0  # a shaft that stands out by less carries nothing (own choice)
RIM_MM = 1.0  # so far around the mouth the wall is looked at (own choice)
PLANES = 4  # through the axis, in which it is
_BIAS = 0.3  # turns them off the parting plane
_SAME_MM = 0.05
_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class Standing:
    """How a shaft stands out, mm.

    Attributes
    ----------
    wall_mm : from where it leaves its part to where the wall around its mouth ends.
    tip_mm : the same to its end.
    beside_mm, at_mm : the same to where all material of the housing on that side ends, and that place: what
        goes on the shaft may be of any width, so all of that side counts (own choice).
    radius_mm : how near to its axis something reaches further out than its tip; inf where nothing does.
    """

    wall_mm: float
    tip_mm: float
    beside_mm: float
    at_mm: Floats
    radius_mm: float


def standing(shaft: Shaft, way: Passage, widest_mm: float, halves: Sequence[Mesh]) -> Standing:
    """Measure on the finished halves how a shaft stands out of its way, whose mouth is so wide."""
    points = np.concatenate([half.vertices for half in halves])
    along = (points - shaft.base_mm) @ shaft.axis
    tip = float((shaft.tip_mm - shaft.base_mm) @ shaft.axis)
    before = points[along > tip + _SAME_MM] - shaft.base_mm
    away = np.linalg.norm(before - np.outer(before @ shaft.axis, shaft.axis), axis=1)
    rims = _rims(halves, shaft, widest_mm / 2 + RIM_MM)
    rims = rims[rims > 0]  # where room at its side widens the mouth, all that is there lies behind
    # The median: an ear may stand at one side of the mouth.
    wall = float(np.median(rims) if len(rims) else (way.mouth_mm - shaft.base_mm) @ shaft.axis)
    furthest = int(along.argmax())
    return Standing(wall, tip, float(along[furthest]), points[furthest], float(away.min(initial=np.inf)))


def _rims(halves: Sequence[Mesh], shaft: Shaft, radius_mm: float) -> Floats:
    """Return how far along a shaft the halves reach within a radius about it, by direction."""
    frame = rotation_to(_UP, shaft.axis)[:3, :3]
    rims = []
    for angle in (np.arange(PLANES) / PLANES * np.pi + _BIAS).tolist():
        beside = np.cos(angle) * frame[:, 0] + np.sin(angle) * frame[:, 1]
        lines = [line.points for h in halves for line in section(h, shaft.base_mm, shaft.axis, beside)]
        for low, high in ((-radius_mm, 0.0), (0.0, radius_mm)):
            rims.append(max((_furthest(line, low, high) for line in lines), default=-np.inf))
    found: Floats = np.array(rims)[np.isfinite(rims)]
    return found


def _furthest(line: Floats, low: float, high: float) -> float:
    """Return the greatest x of a closed line, (k, 2), between two y; -inf where it is not there."""
    a, b = line, np.roll(line, -1, axis=0)
    rise = b[:, 1] - a[:, 1]
    level = np.abs(rise) < 1e-12
    ends = (np.array([[low], [high]]) - a[:, 1]) / np.where(level, 1.0, rise)
    first = np.where(level, 0.0, np.clip(ends.min(axis=0), 0, 1))
    last = np.where(level, 1.0, np.clip(ends.max(axis=0), 0, 1))
    there = np.where(level, (a[:, 1] >= low) & (a[:, 1] <= high), last > first)
    reach = np.maximum(a[:, 0] + first * (b - a)[:, 0], a[:, 0] + last * (b - a)[:, 0])
    return float(reach[there].max(initial=-np.inf))


def passage_findings(
    shafts: tuple[Shaft, ...],
    passages: tuple[Passage, ...],
    halves: Sequence[Mesh],
    made: Mapping[str, Work],
    turning: Iterable[str] = (),
    barred: Iterable[Finding] = (),
) -> Iterator[Finding]:
    """Tell of turning zones without a way out, how shafts stand out, and of passages that meet.

    Parameters
    ----------
    halves : finished, build frame.
    made : what features have made, by name.
    turning : names of the turning zones whose way out is to be told of.
    barred : what is known of shafts that have no way out.
    """
    yield from barred
    led_out = {s.zone for s in shafts}
    for name in (n for n in dict.fromkeys(turning) if n not in led_out):
        yield Finding(
            "passage-none",
            "fail",
            f"The {name} turns, but it sticks out of nothing, so the housing has no way out for it.",
            "Pick the faces of its free end as well, or say that it is held.",
        )
    for shaft in shafts:
        mine = [p for p in passages if p.zone == shaft.zone and float(p.axis @ shaft.axis) > 0.999]
        if not mine:
            yield Finding(
                "passage-no-wall",
                "caution",
                f"The {shaft.zone} meets no wall: the housing ends before it.",
                "Let that side reach further out if the wall should guide or guard the shaft.",
                _triple(shaft.base_mm),
            )
            continue
        if not any(_is_of(f, shaft) for w in made.values() for f in w.findings):
            seated = [s.mouth_mm for w in made.values() for s in w.seats if s.zone == shaft.zone]
            widest = max(mine[0].widest_mm, *seated) if seated else mine[0].widest_mm
            yield _told(shaft, standing(shaft, mine[0], widest, halves), made)
        if shaft.hole_extra_mm > 0:
            yield Finding(
                "passage-corrected",
                "pass",
                f"The hole for the {shaft.zone} is drawn {shaft.hole_extra_mm:.2f} mm wider, as your printer "
                "makes holes smaller.",
                where_mm=_triple(mine[0].mouth_mm),
            )
        if mine[0].aslant:
            yield Finding(
                "passage-aslant",
                "caution",
                f"The {shaft.zone} goes out aslant, so the wall runs out thin on one side of its mouth.",
                "Turn the part until the shaft points square to a side.",
                _triple(mine[0].mouth_mm),
            )
    for one, other in combinations(passages, 2):
        shared = one.cut & other.cut
        if one.zone != other.zone and shared.volume_mm3 > MEET_MM3:
            yield Finding(
                "passages-meet",
                "caution",
                f"The passages of {one.zone} and {other.zone} meet inside the wall.",
                "See that the shafts do not touch, and that the wall between them is not needed.",
                _triple(shared.bounds.mean(axis=0)),
            )


def _told(shaft: Shaft, found: Standing, made: Mapping[str, Work]) -> Finding:
    """Say how a shaft stands out."""
    tip = _triple(shaft.tip_mm)
    side = face_of(shaft.axis)
    out, past = found.tip_mm - found.wall_mm, found.tip_mm - found.beside_mm
    if out <= 0:
        return Finding(
            "passage-ends-inside",
            "caution",
            f"The end of the {shaft.zone} stays {-out:.1f} mm inside its passage.",
            f"Let the {side} reach less far out at station Shell if something goes on the shaft."
            if shaft.leaves
            else "If something goes on the shaft, let it come out at station Fit: floor and roof are "
            "then measured from the body.",
            tip,
        )
    beside = ""
    if past < -_SAME_MM:
        beside = (
            f" {_owner(found.at_mm, made)} on that side reaches {-past:.1f} mm further out than its tip, and "
            f"comes as near as {found.radius_mm:.1f} mm to its axis."
        )
    if out < STUB_MM:
        return Finding(
            "passage-stub",
            "caution",
            f"The {shaft.zone} stands only {out:.1f} mm out of the wall around it; hardly a part fits "
            f"on.{beside}",
            f"Let the {side} reach less far out at station Shell.",
            tip,
        )
    if beside:
        return Finding(
            "passage-beside",
            "caution",
            f"The {shaft.zone} stands {out:.1f} mm out of the wall around it.{beside}",
            f"Put nothing on the shaft that swings wider than {found.radius_mm:.1f} mm, or clear that side.",
            tip,
        )
    words = f"The {shaft.zone} stands {out:.1f} mm out of the "
    if found.beside_mm > found.wall_mm + _SAME_MM:
        words += f"wall around it, and {past:.1f} mm past all else on that side."
    else:
        words += "housing."
    return Finding("passage-out", "pass", words, where_mm=tip)


def _owner(at_mm: Floats, made: Mapping[str, Work]) -> str:
    """Name what reaches out furthest, for the beginning of a sentence."""
    for name, work in made.items():
        for body in work.added:
            low, high = body.bounds
            if ((at_mm >= low - _SAME_MM) & (at_mm <= high + _SAME_MM)).all():
                return f"Material of {name}"
    return "The housing"


def _is_of(finding: Finding, shaft: Shaft) -> bool:
    """Tell whether a shaft is said to be too short for its bearing already."""
    if finding.code != TOO_SHORT or finding.where_mm is None:
        return False
    away = np.array(finding.where_mm) - shaft.base_mm
    along = float(away @ shaft.axis)
    return along > 0 and float(np.linalg.norm(away - along * shaft.axis)) < _SAME_MM


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return (x, y, z)
