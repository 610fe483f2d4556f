"""Words and mating notches: what is cut measured on the halves, and what is left behind it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import igl
import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.engraving import READ
from housingdesk.features.lettering import fonts, letters_of
from housingdesk.features.lettering.strokes import stroke_outline
from housingdesk.features.mark import Mark
from housingdesk.features.mating_marks import MatingMarks
from housingdesk.features.registry import as_feature
from housingdesk.features.site import Site
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import SIDES
from tests.features.sites import block_site, halves_with

CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def taken(site: Site, *features: Any) -> dict[str, float]:
    """Return the volume that features take from each half (negative where they add)."""
    plain, made = halves_with(site), halves_with(site, *features)
    return {side: plain[side].volume_mm3 - made[side].volume_mm3 for side in SIDES}


def findings(site: Site, feature: Any) -> list[tuple[str, str]]:
    return [(f.severity, f.message) for f in build_features((feature,), site).findings]


# --- letters -----------------------------------------------------------------------------------------


def test_plain_letters_stand_on_the_line_and_are_as_high_as_asked() -> None:
    for letter in CAPITALS.replace("Q", "") + "0123456789":
        outline, missing = stroke_outline(letter)
        low, high = outline.bounds[:, 1].tolist()
        assert not missing
        assert low == pytest.approx(0.0, abs=0.002), letter
        assert high == pytest.approx(1.0, abs=0.002), letter


def test_no_two_plain_letters_look_alike() -> None:
    drawn = {c: stroke_outline(c)[0] for c in CAPITALS + "0123456789"}
    drawn = {c: o.moved(-o.bounds[0]) for c, o in drawn.items()}
    letters = list(drawn)
    for i, a in enumerate(letters):
        for b in letters[i + 1 :]:
            first, second = drawn[a], drawn[b]
            apart = (first - second).area_mm2 + (second - first).area_mm2
            assert apart > 0.1 * min(first.area_mm2, second.area_mm2), (a, b)


def test_the_strokes_of_plain_letters_are_even() -> None:
    """A pen as wide as the bar of I: a border moved in by half of that leaves nothing of a letter."""
    bar = float(np.ptp(stroke_outline("I")[0].bounds[:, 0]))
    for letter in CAPITALS:
        outline = stroke_outline(letter)[0]
        assert outline.grown(-0.45 * bar).area_mm2 > 0
        assert outline.grown(-0.8 * bar).area_mm2 < 0.02 * outline.area_mm2, letter


def test_small_letters_and_accents_fall_back_and_unknown_ones_are_said() -> None:
    assert stroke_outline("e")[0].area_mm2 == pytest.approx(stroke_outline("E")[0].area_mm2)
    assert stroke_outline("é")[0].area_mm2 == pytest.approx(stroke_outline("E")[0].area_mm2)
    assert stroke_outline("ü")[0].area_mm2 > stroke_outline("U")[0].area_mm2
    made = letters_of("A\u4e2dB", 5.0)
    assert made.notes and "\u4e2d" in made.notes[0]
    with pytest.raises(SpecError, match="None of these letters"):
        letters_of("\u4e2d", 5.0)


def _built_font(folder: Path) -> Path:
    """Write a font with one letter, a 500 x 700 block with a 100 x 300 hole, made with fontTools' builder."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    for loop in ([(0, 0), (0, 700), (500, 700), (500, 0)], [(200, 200), (300, 200), (300, 500), (200, 500)]):
        pen.moveTo(loop[0])
        for point in loop[1:]:
            pen.lineTo(point)
        pen.closePath()
    empty = TTGlyphPen(None).glyph()
    made = FontBuilder(1000, isTTF=True)
    made.setupGlyphOrder([".notdef", "A"])
    made.setupCharacterMap({ord("A"): "A"})
    made.setupGlyf({".notdef": empty, "A": pen.glyph()})
    made.setupHorizontalMetrics({".notdef": (500, 0), "A": (600, 0)})
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupOS2(sCapHeight=700)
    made.setupNameTable({"familyName": "Deskblock", "styleName": "Regular"})
    made.setupPost()
    path = folder / "deskblock.ttf"
    made.save(path)
    return path


def test_letters_of_an_installed_font_have_its_outlines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _built_font(tmp_path)
    (tmp_path / "broken.ttf").write_bytes(b"\0\1\0\0 no font at all")
    monkeypatch.setattr(fonts, "folders", lambda: (tmp_path, tmp_path / "nowhere"))
    fonts.installed.cache_clear()
    try:
        assert list(fonts.installed()) == ["Deskblock"]
        made = letters_of("AA", 7.0, "deskblock")
    finally:
        fonts.installed.cache_clear()
    # Two letters of 5 x 7 mm less 1 x 3 mm each, 6 mm apart.
    assert made.outline.area_mm2 == pytest.approx(2 * (35 - 3), rel=1e-6)
    assert np.ptp(made.outline.bounds, axis=0) == pytest.approx([11.0, 7.0])
    assert made.outline.bounds.mean(axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert not made.notes


def test_a_font_that_is_not_here_gives_plain_letters_and_says_so() -> None:
    made = letters_of("AB", 7.0, "No Such Font Anywhere")
    assert made.outline.area_mm2 == pytest.approx(letters_of("AB", 7.0).outline.area_mm2)
    assert "not on this machine" in made.notes[0]


# --- words -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("face", list(READ))
def test_engraved_words_take_their_area_times_their_depth(face: str) -> None:
    site = block_site(wall_mm=3.0)
    mark = Mark(name="m", text="AB", face=face, height_mm=4.0, depth_mm=0.5)
    area = letters_of("AB", 4.0).outline.area_mm2
    gone = taken(site, mark)
    assert sum(gone.values()) == pytest.approx(0.5 * area, rel=1e-3)
    if face in ("floor", "roof"):
        assert gone["upper" if face == "floor" else "lower"] == pytest.approx(0.0, abs=1e-6)
    assert findings(site, mark)[0][0] == "pass"


def test_raised_words_stand_out_and_are_a_caution_on_the_bed() -> None:
    site = block_site()
    area = letters_of("AB", 4.0).outline.area_mm2
    side = Mark(name="m", text="AB", face="front", way="raised", height_mm=4.0, depth_mm=0.8)
    assert sum(taken(site, side).values()) == pytest.approx(-0.8 * area, rel=1e-3)
    assert findings(site, side) == []
    bed = side.model_copy(update={"face": "roof"})
    assert [s for s, _ in findings(site, bed)] == ["caution"]
    assert halves_with(site, side)["lower"].bounds[0, 1] == pytest.approx(site.outer_mm[0, 1] - 0.8)


@pytest.mark.parametrize("face", list(READ))
def test_words_read_from_outside_are_not_mirrored(face: str) -> None:
    """The letter F, seen from outside: its bars point to the reader's right, the longer one is above."""
    frame = READ[face]
    assert np.cross(frame.u, frame.v) == pytest.approx(frame.out)
    site = block_site(wall_mm=3.0)
    cut = Solid.union(Mark(name="m", text="F", face=face, height_mm=6.0).build(site).taken)
    seen = frame.seen(cut.mesh().vertices)
    middle = frame.seen(site.outer_mm.mean(axis=0))
    upper = seen[seen[:, 1] > middle[1] + 1.5]
    lower = seen[seen[:, 1] < middle[1] - 1.5]
    assert upper[:, 0].max() > lower[:, 0].max() + 1.0
    assert upper[:, 0].min() == pytest.approx(lower[:, 0].min(), abs=0.2)


def test_what_is_left_behind_words_is_measured_and_too_little_is_refused() -> None:
    site = block_site(wall_mm=2.4)
    words = Mark(name="m", text="HI", face="front", height_mm=4.0, depth_mm=1.0)
    assert ("pass", "Behind m 1.40 mm of wall are left.") in findings(site, words)
    half = halves_with(site, words)["lower"].mesh()
    ahead = np.all(half.vertices[half.faces][:, :, 1] < -13.5, axis=1)  # before the cavity's front face
    on_cavity = np.array([[x, -13.0, 7.0] for x in np.linspace(-4, 4, 200)])
    squared = igl.point_mesh_squared_distance(
        on_cavity, np.array(half.vertices), half.faces[ahead].astype(np.int64)
    )[0]
    assert np.sqrt(squared.min()) == pytest.approx(1.4, abs=1e-6)
    deep = words.model_copy(update={"depth_mm": 1.5})
    with pytest.raises(SpecError, match=r"Only 0\.90 mm .* at most 1\.2 mm deep"):
        deep.build(site)
    assert findings(site, deep)[0][0] == "fail"
    with pytest.raises(SpecError, match="break through into the cavity"):
        words.build(block_site(wall_mm=0.8))
    with pytest.raises(SpecError, match=r"Only 0\.30 mm .* raise it instead"):
        words.model_copy(update={"depth_mm": 0.3}).build(block_site(wall_mm=0.6))


def test_words_follow_a_round_outside_evenly_deep() -> None:
    site = block_site()
    tall = Solid.prism(Outline.circle((0, 0), 30.0), *site.outer_mm[:, 2].tolist())
    round_site = replace(site, form=tall, outer_mm=tall.bounds)
    mark = Mark(name="m", text="MMMM", face="front", height_mm=5.0, depth_mm=0.6)
    area = letters_of("MMMM", 5.0).outline.area_mm2
    assert sum(taken(round_site, mark).values()) == pytest.approx(0.6 * area, rel=1e-3)
    assert "runs over" not in " ".join(m for _, m in findings(round_site, mark))


def test_words_over_an_edge_too_fine_or_beside_the_side_are_said() -> None:
    site = block_site()
    over = Mark(name="m", text="OVER", face="roof", height_mm=8.0, across_mm=20.0)
    assert any("runs over the edge of the roof" in m for _, m in findings(site, over))
    fine = Mark(name="m", text="FINE", face="roof", height_mm=2.0)
    assert any("finer than 0.4 mm" in m for _, m in findings(site, fine))
    with pytest.raises(SpecError, match="no outside at that place"):
        Mark(name="m", text="A", face="roof", across_mm=300.0).build(site)
    with pytest.raises(SpecError, match="no words to write"):
        Mark(name="m", text="  ").build(site)


def test_this_side_up_has_an_arrow_on_side_walls_only() -> None:
    site = block_site(room_mm=20.0)
    wall = Mark(name="m", says="this side up", face="front", height_mm=3.0)
    roof = wall.model_copy(update={"face": "roof"})
    words = letters_of("THIS SIDE UP", 3.0).outline.area_mm2
    assert sum(taken(site, roof).values()) == pytest.approx(0.6 * words, rel=1e-3)
    # The arrow: a shaft of 0.2 x 0.8 heights and a tip of 0.8 x 0.6 heights.
    arrow = (0.2 * 0.8 + 0.5 * 0.8 * 0.6) * 3.0**2
    assert sum(taken(site, wall).values()) == pytest.approx(0.6 * (words + arrow), rel=2e-3)


def test_words_are_proposed_dragged_and_placed_by_a_click() -> None:
    site = block_site()
    first = Mark.proposed(site)
    assert first is not None and first.says == "the part's name"
    made = build_features((first.model_copy(update={"name": "m"}),), site)
    assert [f.severity for f in made.findings] == ["pass"]
    clicked = Mark.at(np.array([5.0, site.outer_mm[1, 1], 3.0]), np.array([0.1, 1.0, 0.0]), site)
    assert clicked is not None and (clicked.face, clicked.across_mm, clicked.up_mm) == ("back", -5.0, 3.0)
    dragged = clicked.moved("place", np.array([-7.0, 99.0, 4.0]), 8.0)
    assert (dragged.across_mm, dragged.up_mm) == (7.0, 4.0)
    again = as_feature(dragged.model_dump())
    assert again == dragged
    handle = made.made["m"].handles[0]
    assert handle.at_mm[2] == pytest.approx(site.outer_mm[1, 2])


def test_every_field_has_a_name() -> None:
    for kind in (Mark, MatingMarks):
        named = set(re.findall(r"{(\w+)}", kind.SENTENCE))
        assert named <= set(kind.model_fields)
        assert all(f.title for n, f in kind.model_fields.items() if n != "kind")


# --- mating notches -------------------------------------------------------------------------------------


@pytest.mark.parametrize("face", ["front", "back", "left", "right"])
def test_notches_match_across_the_parting_edge(face: str) -> None:
    site = block_site()
    made = MatingMarks(name="n", face=face, count=3, width_mm=1.5, depth_mm=0.5, length_mm=2.0)
    gone = taken(site, made)
    for side in SIDES:
        assert gone[side] == pytest.approx(3 * 1.5 * 0.5 * 2.0, rel=1e-9)
    halves, z = halves_with(site, made), site.parting_z_mm
    below, above = halves["lower"].section_at(z - 0.01), halves["upper"].section_at(z + 0.01)
    plain = halves_with(site)
    lost = [plain["lower"].section_at(z - 0.01) - below, plain["upper"].section_at(z + 0.01) - above]
    assert lost[0].area_mm2 == pytest.approx(3 * 1.5 * 0.5, rel=1e-6)
    assert (lost[0] - lost[1]).area_mm2 + (lost[1] - lost[0]).area_mm2 < 1e-6


def test_a_turned_half_does_not_match() -> None:
    site = block_site()
    cut = MatingMarks(name="n").build(site).cut["upper"][0]
    turned = cut.moved(np.diag([-1.0, -1.0, 1.0, 1.0]))
    assert (cut & turned).is_empty
    middle = MatingMarks(name="n", across_mm=0.0)
    assert any(s == "caution" and "middle" in m for s, m in findings(site, middle))


def test_notches_are_refused_where_they_leave_too_little() -> None:
    with pytest.raises(SpecError, match=r"Only 0\.40 mm .* at most"):
        MatingMarks(name="n", depth_mm=2.0).build(block_site(wall_mm=2.4))
    assert MatingMarks.at(np.zeros(3), np.array([0, 0, 1.0]), block_site()) is None
