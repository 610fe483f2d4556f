"""Putting features on: each makes its bodies, then all are added and cut in one order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, permutations

import numpy as np

from housingdesk.errors import HousingError
from housingdesk.features.feature import Feature
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding, Severity
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Side

COLLIDE_MM3 = 0.5  # bodies that share less than this touch
NEXT_TO_MM = 0.05


@dataclass(frozen=True, eq=False)
class Works:
    """What all features have made, by feature name, and what was found about them.

    ``said`` has the findings by the feature they are about; of two that collide both are told.
    ``knobs`` has the handles of features that could not be made, where their own fields place them.
    """

    made: dict[str, Work] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    said: dict[str, tuple[Finding, ...]] = field(default_factory=dict)
    knobs: dict[str, tuple[Handle, ...]] = field(default_factory=dict)

    @property
    def stands(self) -> tuple[Solid, ...]:
        """What features add to both halves before they are parted and made hollow."""
        return tuple(s for w in self.made.values() for s in w.stands)

    @property
    def carved(self) -> tuple[Solid, ...]:
        """What features cut from both halves, whatever the plane."""
        return tuple(s for w in self.made.values() for s in w.carved)

    def added(self, side: Side) -> list[Solid]:
        """Return what features add to one half before it is made hollow."""
        return [s for w in self.made.values() for s in w.add.get(side, ())]

    def pads(self, side: Side) -> list[Solid]:
        """Return what stands into one half's cavity on purpose."""
        return [s for w in self.made.values() for s in w.pads.get(side, ())]

    def cuts(self, side: Side) -> list[Solid]:
        """Return what features cut from one half at last."""
        return [s for w in self.made.values() for s in w.cut.get(side, ())]


def build_features(wanted: tuple[Feature, ...], site: Site) -> Works:
    """Build every feature that is switched on; one that cannot be made is left out, and that is said."""
    made: dict[str, Work] = {}
    said: dict[str, list[Finding]] = {}
    knobs: dict[str, tuple[Handle, ...]] = {}
    for feature in sorted((f for f in wanted if f.on), key=lambda f: f.ORDER):
        try:
            work = feature.build(replace(site, done=dict(made)))
        except HousingError as error:
            said[feature.name] = [
                Finding(
                    f"feature-{feature.kind}",
                    "fail",
                    f"{feature.name} could not be made: {error}",
                    "Change it on the job card, or switch it off.",
                    feature.spot(site),
                )
            ]
            knobs[feature.name] = feature.knobs(site)
            continue
        made[feature.name] = work
        said[feature.name] = list(work.findings)
    findings = [f for group in said.values() for f in group]
    for pair, finding in _collisions(made):
        findings.append(finding)
        for name in pair:
            said[name].append(finding)
    return Works(made, tuple(findings), {n: tuple(group) for n, group in said.items() if group}, knobs)


def near(some: Sequence[Solid], others: Sequence[Solid]) -> tuple[list[Solid], list[Solid]]:
    """Return those bodies of each list whose boxes meet a box of the other list; only they can meet."""
    if not some or not others:
        return [], []
    a, b = (np.array([s.bounds for s in group]) for group in (some, others))
    meet = np.all((a[:, None, 0] < b[None, :, 1]) & (b[None, :, 0] < a[:, None, 1]), axis=2)
    one, other = np.nonzero(meet)
    return [some[i] for i in sorted(set(one.tolist()))], [others[i] for i in sorted(set(other.tolist()))]


def _collisions(made: dict[str, Work]) -> list[tuple[tuple[str, str], Finding]]:
    """Return both names and a finding for every pair of features of which one spoils the other."""
    found: dict[frozenset[str], tuple[tuple[str, str], Finding]] = {}

    def look(a: str, b: str, severity: Severity, what: str, some: Sequence[Solid], others: Sequence[Solid],
             less: Sequence[Solid] = ()) -> None:  # fmt: skip
        pair = frozenset((a, b))
        where = None if pair in found else _shared(some, others, less)
        if where is not None:
            remedy = f"Move {a} and {b} apart."
            found[pair] = (a, b), Finding("features-collide", severity, what, remedy, where)

    for a, b in permutations(made, 2):
        one, other = made[a], made[b]
        look(a, b, "fail", f"{a} cuts into the material that {b} needs.", one.taken, other.needs)
        look(a, b, "fail", f"{a} covers {b}.", (*one.added, *one.keep_out), other.in_view)
    for a, b in permutations(made, 2):
        what = f"{a} stands in the room that {b} needs."
        look(a, b, "caution", what, made[a].added, _outside_cuts(made[b]), made[b].taken)
    for a, b in combinations(made, 2):
        what = f"{a} and {b} run into each other."
        look(a, b, "caution", what, made[a].keep_out, made[b].keep_out)
    return list(found.values())


def _outside_cuts(work: Work) -> list[Solid]:
    """Return what a feature keeps free where it does not cut it free itself: before heads, around a nut."""
    cuts = np.array([s.bounds for s in work.taken]).reshape(-1, 2, 3)
    boxes = [s.bounds for s in work.keep_out]
    return [
        body
        for body, (low, high) in zip(work.keep_out, boxes, strict=True)
        if not ((cuts[:, 0] <= low + NEXT_TO_MM) & (cuts[:, 1] >= high - NEXT_TO_MM)).all(axis=1).any()
    ]


def _shared(
    some: Sequence[Solid], others: Sequence[Solid], less: Sequence[Solid] = ()
) -> tuple[float, float, float] | None:
    """Return the middle of what two groups share beside a third, None where that is next to nothing."""
    ours, theirs = near(some, others)
    if not ours:
        return None
    shared = Solid.union(ours) & Solid.union(theirs)
    if less and shared.volume_mm3 > COLLIDE_MM3:
        shared = shared.without(less)
    if shared.volume_mm3 <= COLLIDE_MM3:
        return None
    x, y, z = shared.bounds.mean(axis=0).tolist()
    return (x, y, z)
