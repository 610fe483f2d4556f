"""Screws: holes measured on exported halves, nuts and heads as bodies, places clear of everything."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import Works, build_features
from housingdesk.errors import SpecError
from housingdesk.features.hardware import hardware
from housingdesk.features.registry import as_feature, kinds
from housingdesk.features.screws import Screws
from housingdesk.features.site import Site
from housingdesk.features.stack import stack
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from tests.features.gauges import bearing, hits_along, nut_solid
from tests.features.sites import block_site, halves_with
from tests.features.slices import bore_at, exported

# ISO 273 medium, ISO 4762 knurled head and its height, ISO 4032 flats and height, insert hole:
# check-values.md sections 1a and 2b (R2, R, R2, R2).
MEDIUM = {"M2": 2.4, "M2.5": 2.9, "M3": 3.4, "M4": 4.5, "M5": 5.5, "M6": 6.6}
FINE_M3, COARSE_M3 = 3.2, 3.6
CAP_HEAD = {"M2": (3.98, 2.0), "M3": (5.68, 3.0), "M4": (7.22, 4.0), "M5": (8.72, 5.0), "M6": (10.22, 6.0)}
NUT = {
    "M2": (4.0, 1.6),
    "M2.5": (5.0, 2.0),
    "M3": (5.5, 2.4),
    "M4": (7.0, 3.2),
    "M5": (8.0, 4.7),
    "M6": (10.0, 5.2),
}
INSERT_HOLE = {"M2": 3.2, "M3": 4.0, "M4": 5.6, "M5": 6.4, "M6": 8.0}
CSK = {"M3": 6.72, "M4": 8.96, "M5": 11.2, "M6": 13.44}  # ISO 10642 theoretical head (R2)


def tall_site(**more: Any) -> Site:
    """A block 60 mm high, parted in the middle, so that every size finds room."""
    site = block_site(room_mm=14.0)
    outer = np.array([site.outer_mm[0] - [0, 0, 20], site.outer_mm[1] + [0, 0, 20]])
    return replace(site, outer_mm=outer, form=Solid.box(outer[0], outer[1]), **more)


def work_of(site: Site, feature: Screws) -> Work:
    works = build_features((feature,), site)
    assert feature.name in works.made, works.findings
    return works.made[feature.name]


def made(site: Site, feature: Screws) -> tuple[dict[str, Any], Work]:
    halves = halves_with(site, feature)
    return {side: exported(half) for side, half in halves.items()}, work_of(site, feature)


@pytest.mark.parametrize("size", list(INSERT_HOLE))
def test_holes_on_the_exported_halves(size: Any) -> None:
    site = tall_site()
    halves, work = made(site, Screws(name="S", size=size))
    assert len(work.fasteners) == 4
    for f in work.fasteners:
        (x, y, seat), (_, _, tip) = f.axis_mm
        z = site.parting_z_mm
        clear, round_clear = bore_at(halves["upper"], (x, y), (z + seat) / 2)
        assert clear == pytest.approx(MEDIUM[size], abs=0.01)
        assert round_clear == pytest.approx(MEDIUM[size], abs=0.05)
        insert, _ = bore_at(halves["lower"], (x, y), z - 1.0)
        assert insert == pytest.approx(INSERT_HOLE[size], abs=0.05)
        assert f.pilot_or_insert_hole_mm == pytest.approx(insert, abs=0.05)
        head, _ = bore_at(halves["upper"], (x, y), seat + 0.5)
        assert head == pytest.approx(f.head_hole_mm, abs=0.05)
        knurled, high = CAP_HEAD[size]
        assert head >= knurled + 0.2
        # The seat, found by a line that runs between shank and head.
        heights = hits_along(halves["upper"], (x, y), (f.clear_hole_mm + f.head_hole_mm) / 4)
        assert heights.max() == pytest.approx(seat, abs=0.05)
        assert site.outer_mm[1, 2] - heights.max() == pytest.approx(f.head_depth_mm, abs=0.05)
        assert f.head_depth_mm >= high
        # Length is from under the head to the tip, and the tip stays in a hole.
        assert seat - tip == pytest.approx(f.length_mm, abs=1e-6)
        floor = hits_along(halves["lower"], (x, y), 0.3)
        assert floor.max() <= tip - 0.9
        assert floor.max() - site.outer_mm[0, 2] >= site.wall_mm - 0.05


@pytest.mark.parametrize(("hole", "wide"), [("fine", FINE_M3), ("medium", 3.4), ("coarse", COARSE_M3)])
def test_the_three_rows_of_iso_273(hole: Any, wide: float) -> None:
    site = tall_site()
    halves, work = made(site, Screws(name="S", hole=hole))
    x, y, seat = work.fasteners[0].axis_mm[0]
    assert bore_at(halves["upper"], (x, y), seat - 2)[0] == pytest.approx(wide, abs=0.01)


def test_the_printers_correction_widens_every_hole_but_the_countersink() -> None:
    plain = hardware("M3", "heat-set inserts", "cap", True, "medium", "PLA", 0.0)
    wider = hardware("M3", "heat-set inserts", "cap", True, "medium", "PLA", 0.2)
    for field in ("clear_mm", "thread_mm", "head_mm", "nut_flats_mm"):
        assert getattr(wider, field) == pytest.approx(getattr(plain, field) + 0.2)
    cone = hardware("M3", "heat-set inserts", "countersunk", True, "medium", "PLA", 0.2)
    assert cone.head_mm == 6.72


# Pilot hole and least thread as shares of d: pencomsf.com for ABS 0.80 / 2.00, ASA 0.78 / 2.00,
# PA 6 0.75 / 1.70 (check-values 2a, R); PLA and PETG are the program's own defaults, 0.80 to 0.85.
@pytest.mark.parametrize(
    ("material", "pilot", "threads"), [("ABS", 0.80, 2.0), ("ASA", 0.78, 2.0), ("PA 6", 0.75, 1.7)]
)
def test_printed_threads_follow_the_plastic(material: str, pilot: float, threads: float) -> None:
    site = tall_site(material=material)
    halves, work = made(site, Screws(name="S", size="M4", holds="printed threads"))
    for f in work.fasteners:
        x, y, _ = f.axis_mm[0]
        assert bore_at(halves["lower"], (x, y), site.parting_z_mm - 4.0)[0] == pytest.approx(
            pilot * 4, abs=0.05
        )
        assert f.engagement_mm >= threads * 4
        # Relief at the mouth: 0.25 d deep, 1.05 d wide (celofasteners.com).
        assert bore_at(halves["lower"], (x, y), site.parting_z_mm - 0.5)[0] == pytest.approx(4.2, abs=0.05)


def test_little_room_for_printed_thread_is_said_and_none_is_refused() -> None:
    some = build_features((Screws(name="S", holds="printed threads"),), block_site(room_mm=12))
    assert {f.code: f.severity for f in some.findings}["screw-thread"] == "caution"
    none = build_features(
        (Screws(name="S", holds="printed threads"),), block_site(parting_z_mm=1.0, room_mm=12)
    )
    assert none.made == {}
    assert "thread" in none.findings[0].message


@pytest.mark.parametrize("size", list(NUT))
def test_a_nut_of_iso_4032_drops_into_its_pocket(size: Any) -> None:
    site = tall_site()
    feature = Screws(name="S", size=size, holds="nuts dropped in")
    lower = halves_with(site, feature)["lower"]
    flats, high = NUT[size]
    for f in work_of(site, feature).fasteners:
        x, y, _ = f.axis_mm[0]
        # The bearing face, found by a line between the shank and the nut's flats.
        face = bearing(lower, (x, y), (f.clear_hole_mm + flats) / 4)
        nut = nut_solid((x, y), flats, high, face - high)
        assert (lower & nut).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        # All the way in from below.
        way = nut_solid((x, y), flats, face - site.outer_mm[0, 2] + 20, site.outer_mm[0, 2] - 20)
        assert (lower & way).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        # It cannot turn: a nut turned by half a flat would not pass.
        assert (lower & nut_solid((x, y), flats, high, face - high, turn=np.pi / 6)).volume_mm3 > 0.1
        assert site.outer_mm[0, 2] <= face - high, "the nut is inside"
        assert f.axis_mm[1][2] <= face - high, "the screw passes the whole nut"
        assert f.axis_mm[1][2] >= site.outer_mm[0, 2] - 1e-6, "the tip does not stand out"


@pytest.mark.parametrize("size", ["M3", "M5"])
def test_a_nut_slides_in_from_the_side(size: Any) -> None:
    site = tall_site()
    feature = Screws(name="S", size=size, holds="nuts slid in")
    lower = halves_with(site, feature)["lower"]
    flats, high = NUT[size]
    for f in work_of(site, feature).fasteners:
        x, y, _ = f.axis_mm[0]
        face = bearing(lower, (x, y), (f.clear_hole_mm + flats) / 4)
        nuts = [nut_solid((x, y), flats, high, face - high, turn=t) for t in np.arange(12) * np.pi / 12]
        best = min(nuts, key=lambda nut: (lower & nut).volume_mm3)
        assert (lower & best).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        free = 0
        for angle in np.arange(8) * np.pi / 4:
            away = np.array([np.cos(angle), np.sin(angle), 0.0]) * 60.0
            free += bool((lower & Solid.hull([best, best.shifted(away)])).volume_mm3 < 1e-6)
        assert free == 1, "one way in, and no other"
        assert f.axis_mm[1][2] <= face - high


def test_m5_holds_the_height_of_iso_4032_not_of_din_934() -> None:
    """4.7 mm, where tables copied from DIN 934 say 4.0 (check-values 1b)."""
    kit = hardware("M5", "nuts slid in", "cap", True, "medium", "PLA", 0.0)
    assert kit.nut_high_mm == 4.7
    assert kit.nut_deep_mm > 4.7


@pytest.mark.parametrize("size", list(CSK))
def test_a_countersunk_head_sits_flush_by_its_cone(size: Any) -> None:
    """A cone of the standard's theoretical head and 90 degrees, let down until it touches."""
    site = tall_site()
    feature = Screws(name="S", size=size, head="countersunk")
    upper = halves_with(site, feature)["upper"]
    f = work_of(site, feature).fasteners[0]
    x, y, top = f.axis_mm[0]
    assert top == pytest.approx(site.outer_mm[1, 2])
    radius = CSK[size] / 2

    def overlap(sink: float) -> float:
        rim = site.outer_mm[1, 2] - sink
        cone = Solid.rod((x, y, rim), (x, y, rim - (radius - 0.5)), radius, 0.5, outside=True)
        return (upper & cone).volume_mm3

    assert overlap(-0.1) < 1e-3, "0.1 mm proud it still has room"
    assert overlap(0.1) > 0.1, "0.1 mm below flush it would be in the material"


def test_heads_shanks_and_tips_meet_nothing() -> None:
    for head_from, holds in product(
        ("above", "below"), ("heat-set inserts", "printed threads", "nuts outside")
    ):
        site = block_site()
        feature = Screws(name="S", head_from=head_from, holds=holds)
        halves = halves_with(site, feature)
        for f in work_of(site, feature).fasteners:
            (x, y, seat), (_, _, tip) = f.axis_mm
            up = 1.0 if seat > tip else -1.0
            assert (up > 0) == (head_from == "above")
            shank = Solid.rod((x, y, seat), (x, y, tip), 1.45 if holds != "printed threads" else 1.2)
            driver = Solid.rod((x, y, seat), (x, y, seat + up * 60), 5.68 / 2)  # ISO 4762 knurled M3
            for half in halves.values():
                assert (half & shank).volume_mm3 == pytest.approx(0.0, abs=1e-6)
                assert (half & driver).volume_mm3 == pytest.approx(0.0, abs=1e-6)
            # And nothing of it comes near the cavity, however high or low.
            hole = Outline.circle((x, y), f.head_hole_mm / 2 + 1.15)
            assert not site.keep_clear.touches(hole)


def test_ears_are_grown_where_the_block_has_no_room_and_only_there() -> None:
    tight, wide = block_site(), block_site(room_mm=14.0)
    for site, grows in ((tight, True), (wide, False)):
        halves = halves_with(site, Screws(name="S"))
        x = np.array([h.bounds[:, 0] for h in halves.values()])
        assert (x[:, 1].max() > site.outer_mm[1, 0] + 1.0) == grows
        for half in halves.values():
            assert len(half.bodies()) == 1
        assert halves["lower"].bounds[0, 2] == pytest.approx(site.outer_mm[0, 2])
        assert halves["upper"].bounds[1, 2] == pytest.approx(site.outer_mm[1, 2])
        assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        # The cavity keeps its size, and the part its way in.
        for side, half in halves.items():
            assert (half & site.cavity[side]).volume_mm3 == pytest.approx(0.0, abs=1e-6)


def test_material_around_holes_is_what_the_record_says() -> None:
    site = block_site()
    feature = Screws(name="S")
    halves = halves_with(site, feature)
    for f in work_of(site, feature).fasteners:
        x, y, seat = f.axis_mm[0]
        hollow = Solid.rod((x, y, seat + 0.5), (x, y, seat + 1.0), f.head_hole_mm / 2 - 0.01)
        ring = Outline.circle((x, y), f.head_hole_mm / 2 + f.least_wall_mm - 0.02) - Outline.circle(
            (x, y), f.head_hole_mm / 2 + 0.02
        )
        body = Solid.prism(ring, seat + 0.5, seat + 1.0)
        assert (halves["upper"] & body).volume_mm3 == pytest.approx(body.volume_mm3, rel=1e-3)
        wider = Solid.prism(
            Outline.circle((x, y), f.head_hole_mm / 2 + f.least_wall_mm + 0.1), seat + 0.5, seat + 1
        )
        assert (wider - hollow - halves["upper"]).volume_mm3 > 1e-3


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6, 8])
def test_as_many_as_asked_all_apart(count: int) -> None:
    work = work_of(block_site(room_mm=14.0), Screws(name="S", count=count))
    spots = np.array([f.axis_mm[0][:2] for f in work.fasteners])
    assert len(spots) == count
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2) + 99 * np.eye(count)
    assert apart.min() > 6.0
    assert sum(line.count for line in work.bill if "screw" in line.what) == count


def test_screws_follow_wall_plane_and_side() -> None:
    for site in (
        block_site(),
        block_site(wall_mm=5.0),
        block_site(parting_z_mm=10.0),
        block_site(clearance_mm=2.0),
    ):
        for f in work_of(site, Screws(name="S")).fasteners:
            seat = f.axis_mm[0][2]
            assert seat + f.head_depth_mm == pytest.approx(site.outer_mm[1, 2])
            assert f.axis_mm[1][2] < site.parting_z_mm < seat


def test_other_features_are_left_room() -> None:
    site = block_site(room_mm=14.0)
    first = work_of(site, Screws(name="S")).fasteners[0].axis_mm[0]
    barred = Solid.rod((first[0], first[1], -50), (first[0], first[1], 50), 4.0)
    work = Screws(name="S").build(replace(site, done={"wire": Work(keep_out=(barred,))}))
    assert len(work.fasteners) == 4
    for f in work.fasteners:
        assert np.hypot(f.axis_mm[0][0] - first[0], f.axis_mm[0][1] - first[1]) > 4.0 + f.head_hole_mm / 2


def test_a_dragged_screw_stays_and_so_do_the_others() -> None:
    site = block_site(room_mm=14.0)
    feature = Screws(name="S")
    handles = work_of(site, feature).handles
    assert len(handles) == 4
    to = np.array(handles[2].at_mm) + np.array([1.0, 2.0, 9.0])
    dragged = feature.moved(handles[2].key, to, site.parting_z_mm)
    assert len(dragged.places_mm) == 4
    for i, f in enumerate(work_of(site, dragged).fasteners):
        wanted = to[:2] if i == 2 else handles[i].at_mm[:2]
        assert f.axis_mm[0][:2] == pytest.approx(tuple(wanted), abs=0.001)
    assert as_feature(dragged.model_dump(mode="json")) == dragged
    # Keys do not change while one screw is dragged, so that the hand keeps hold of it.
    assert work_of(site, dragged).handles[2].key == handles[2].key


def test_a_screw_in_the_cavity_or_too_near_it_is_told() -> None:
    site = block_site(room_mm=14.0)
    into = build_features((Screws(name="S", places_mm=((0.0, 0.0), (30.0, 20.0)), count=2),), site)
    assert [f.severity for f in into.findings if f.code == "screw-place"] == ["fail"]
    assert len(into.made["S"].fasteners) == 1
    near = build_features((Screws(name="S", places_mm=((24.5, 0.0),), count=1),), site)
    assert {f.code: f.severity for f in near.findings}["screw-wall"] == "fail"


@pytest.mark.parametrize(
    ("wish", "word"),
    [
        ({"size": "M2", "head": "button"}, "ISO 7380-1"),
        ({"length_mm": 5.0}, "between"),
        ({"size": "M6", "holds": "heat-set inserts"}, "insert"),
    ],
)
def test_what_cannot_be_is_one_sentence(wish: dict[str, Any], word: str) -> None:
    works: Works = build_features((Screws(name="S", **wish),), block_site(room_mm=12.0))
    assert works.made == {}
    message = works.findings[0].message
    assert word in message
    assert message.count("\n") == 0


def test_a_length_asked_for_is_kept_by_sinking_the_head() -> None:
    site = tall_site()
    shortest = min(f.length_mm for f in work_of(site, Screws(name="S")).fasteners)
    asked = shortest - 12.0
    work = work_of(site, Screws(name="S", length_mm=asked))
    for f in work.fasteners:
        assert f.length_mm == asked
        assert f.axis_mm[0][2] - f.axis_mm[1][2] == pytest.approx(asked)
        assert f.engagement_mm >= 4.0


def test_stack_refuses_rather_than_lets_the_tip_through() -> None:
    kit = hardware("M3", "printed threads", "cap", True, "medium", "PLA", 0.0)
    with pytest.raises(SpecError, match="does not fit"):
        stack(kit, 10.0, 12.0, 2.4, asked_mm=30.0)
    with pytest.raises(SpecError, match="heads"):
        stack(kit, 3.0, 12.0, 2.4)


def test_inserts_and_tight_screws_have_one_caution() -> None:
    for holds, word in (("heat-set inserts", "hot"), ("nuts outside", "gives way")):
        found = build_features((Screws(name="S", holds=holds),), block_site(room_mm=12.0)).findings
        assert [word in f.message for f in found if f.severity == "caution"] == [True]


def test_it_is_found_and_proposed() -> None:
    assert kinds()["screws"] is Screws
    assert Screws.proposed(block_site()).count == 4


def size_findings(site: Site, size: Any) -> list[Finding]:
    return [f for f in work_of(site, Screws(name="S", size=size)).findings if f.code == "screw-size"]


def test_screws_too_large_for_the_housing_are_told_with_a_size_that_suits() -> None:
    site = block_site()
    site = replace(site, form=Solid.box(site.outer_mm[0] - [0, 0, 12], site.outer_mm[1] + [0, 0, 12]))
    site = replace(site, outer_mm=site.form.bounds)
    assert [size_findings(site, size) for size in ("M2", "M3")] == [[], []]
    (found,) = size_findings(site, "M6")
    assert found.severity == "caution"
    # The figure is that of the finished halves: what they enclose, seen from above.
    with_bosses, bare = (
        Outline.union([h.silhouette() for h in halves_with(site, *features).values()]).filled().area_mm2
        for features in ((Screws(name="S", size="M6"),), ())
    )
    more = round(100 * (with_bosses / bare - 1))
    assert more > 25
    assert found.message == (
        f"M6 is large for this housing: the material around the screws makes it {more} % larger, seen "
        "from above."
    )
    assert found.remedy.startswith("Take M3,")


def test_of_the_smallest_size_fewer_are_advised() -> None:
    site = block_site()
    narrow = replace(site, form=Solid.box(*(site.outer_mm * [0.32, 0.32, 1.0])))
    kit = Screws(name="S", size="M2")
    ears = {(0.0, 0.0): Solid.box([-9, -9, 0], [9, 9, 16])}
    screw = SimpleNamespace(place=(0.0, 0.0))
    (found,) = kit._too_large(narrow, [screw], ears)  # type: ignore[list-item]  # all that is looked at
    assert found.remedy.startswith("Take fewer of them,")


def test_large_screws_that_stand_inside_pass() -> None:
    assert size_findings(tall_site(), "M6") == []


@pytest.mark.parametrize(
    ("long_mm", "narrow_mm", "size"),
    [(33.0, 30.0, "M2"), (71.0, 24.0, "M2"), (40.0, 26.0, "M2.5"), (88.0, 34.0, "M3"), (200.0, 90.0, "M4")],
)
def test_the_size_proposed_suits_length_and_breadth(long_mm: float, narrow_mm: float, size: str) -> None:
    half = np.array([long_mm / 2, narrow_mm / 2, 15.0])
    assert Screws.proposed(replace(block_site(), outer_mm=np.array([-half, half]))).size == size


def test_more_are_chosen_beside_those_placed_by_hand() -> None:
    site = block_site(room_mm=14.0)
    work = work_of(site, Screws(name="S", places_mm=((30.0, 0.0),), count=4))
    spots = [f.axis_mm[0][:2] for f in work.fasteners]
    assert spots[0] == (30.0, 0.0)
    assert len(set(spots)) == 4
    fewer = work_of(site, Screws(name="S", places_mm=((30.0, 0.0), (-30.0, 0.0)), count=1))
    assert [f.axis_mm[0][:2] for f in fewer.fasteners] == [(30.0, 0.0)]


def test_the_hold_that_fits_is_taken() -> None:
    kinds_by_height = {}
    for z in (0.5, 2.0, 6.0):
        site = block_site(parting_z_mm=z, room_mm=14.0)
        kinds_by_height[z] = work_of(site, Screws(name="S")).fasteners[0].kind
    # Height of the lower half: 3.9 mm is too low for a nut with 1.8 mm over it, 5.4 mm for an insert of 4 mm
    # with 1 mm of hole and the wall below it, 9.4 mm is enough.
    assert kinds_by_height == {0.5: "through", 2.0: "nut", 6.0: "insert"}


def test_a_screw_dragged_off_the_housing_is_told_and_leaves_no_loose_piece() -> None:
    site = block_site(room_mm=14.0)
    edge = site.outer_mm[1, 0]
    for out, kept in ((2.0, 4), (30.0, 3)):
        places = ((edge + out, 0.0), (30.0, 20.0), (-30.0, 20.0), (-30.0, -20.0))
        feature = Screws(name="S", places_mm=places)
        works = build_features((feature,), site)
        assert len(works.made["S"].fasteners) == kept
        assert [f.severity for f in works.findings if f.code == "screw-place"] == ["fail"] * (4 - kept)
        assert all(len(half.bodies()) == 1 for half in halves_with(site, feature).values())
    for out in np.arange(4.0, 20.0, 2.0).tolist():
        halves = halves_with(site, Screws(name="S", places_mm=((edge + out, 0.0), (30.0, 20.0)), count=2))
        assert all(len(half.bodies()) == 1 for half in halves.values())
