"""What the bench is to show, from the desk's state and the viewer's choices; no widgets."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from housingdesk.geometry.freedom import Play
from housingdesk.jobs.messages import Build, MapClearance
from housingdesk.proof.facts import PlayFacts
from housingdesk.spec.edits import set_clearance, set_parting_height, set_pull
from housingdesk.ui.benchscene import BenchScene
from housingdesk.ui.desk import Desk
from housingdesk.ui.facepick import FacePick
from housingdesk.ui.themes import Themes
from housingdesk.view3d.scene import GAPS, Look, Scene
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window


@pytest.fixture
def scenes(open_desk: Desk, themes: Themes) -> BenchScene:
    return BenchScene(open_desk, themes)


def scene(scenes: BenchScene, station: str = "Parting", *, stale: bool = False) -> Scene:
    return scenes.scene(station, (0.0, 0.0), stale=stale)


def test_the_part_stands_alone_and_solid_until_there_are_halves(
    desk: Desk, themes: Themes, part_file: Path, clients: list[InlineClient], qtbot: QtBot
) -> None:
    clients[0].refuse[Build] = "Not yet."
    desk.open_part(part_file)
    qtbot.waitUntil(lambda: desk.spec is not None)
    shown = scene(BenchScene(desk, themes))
    assert [(i.name, i.opacity) for i in shown.items] == [("part-0", 1.0)]
    assert shown.plane is None


def test_the_same_choices_are_the_same_scene(scenes: BenchScene) -> None:
    """So the bench draws nothing anew when nothing differs."""
    assert scene(scenes) == scene(scenes)
    assert scene(scenes, stale=True) != scene(scenes)


def test_a_choice_is_told_and_shown_and_another_housing_begins_without_it(
    scenes: BenchScene, qtbot: QtBot
) -> None:
    with qtbot.waitSignal(scenes.changed):
        scenes.set_look(replace(scenes.look, ghost_on=False))
    assert {i.name for i in scene(scenes).items} == {"lower", "upper"}
    scenes.begin()
    assert scenes.look == Look(dark=scenes.look.dark)


def test_the_colours_are_those_worn(scenes: BenchScene, themes: Themes) -> None:
    themes.set_dark(True)
    assert scenes.look.dark
    assert scene(scenes).palette is themes.palette


def test_the_lift_follows_the_height_of_the_housing(scenes: BenchScene) -> None:
    # 10 mm of part, twice 0.5 mm clearance and twice 2.4 mm wall: 15.8 mm.
    assert scenes.most_lift_mm == pytest.approx(1.5 * 15.8)
    scenes.lift_apart(True)
    assert {i.name: i.lift_z for i in scene(scenes).items}["upper"] == pytest.approx(0.75 * 15.8)
    scenes.lift_apart(False)
    assert scenes.look.lift_mm == 0.0


def test_the_plane_stands_where_it_is_asked_for_in_the_same_frame_only(
    scenes: BenchScene, open_desk: Desk, clients: list[InlineClient]
) -> None:
    clients[0].held = True
    open_desk.apply(set_parting_height(3.0))
    plane = scene(scenes).plane
    assert plane is not None
    assert plane.z_mm == 3.0  # the halves of 5 mm are still shown
    open_desk.apply(set_pull("+x", 12.0))
    plane = scene(scenes).plane
    assert plane is not None
    assert plane.z_mm == 5.0  # 12 mm up along X has no place in the frame of the halves shown


def test_gaps_are_asked_of_the_desk_and_stand_in_place_of_all_else(
    scenes: BenchScene, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    scenes.set_look(replace(scenes.look, gaps_on=True))
    assert open_desk.gaps_wanted
    assert [type(j) for j in clients[0].jobs].count(MapClearance) == 1
    qtbot.waitUntil(lambda: open_desk.gaps is not None)
    assert [i.name for i in scene(scenes).items] == [GAPS]
    open_desk.show_gaps(False)
    assert not scenes.look.gaps_on


def test_the_play_is_drawn_at_station_fit_while_it_is_of_these_halves(
    scenes: BenchScene, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    none = (0.0, 0.0)
    found = Play((0.5, 0.5), (0.5, 0.5), (0.5, 0.5), (1.0, 1.0), none, none, none, 3.0, 45.0)
    clients[0].play = PlayFacts("", (0.0, 0.0, 5.0), (0.0, 0.0, 1.0), found)
    open_desk.apply(set_clearance(0.6))
    qtbot.waitUntil(lambda: open_desk.result is not None and open_desk.result.play is not None)
    assert scene(scenes, "Fit").arrows
    assert scene(scenes, "Shell").arrows == ()
    clients[0].held = True
    open_desk.apply(set_clearance(0.7))
    assert scene(scenes, "Fit").arrows == ()


def test_what_a_click_would_pick_is_lit_and_told_once(
    scenes: BenchScene, open_desk: Desk, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: open_desk.patches_of("block") is not None)
    open_desk.start_faces()
    told: list[None] = []
    scenes.changed.connect(lambda: told.append(None))
    for _ in range(2):
        scenes.hover(FacePick("block", frozenset({0})))
    assert len(told) == 1
    (part,) = scene(scenes).items
    assert part.paint is not None
    scenes.hover(FacePick())
    assert scene(scenes).items[0].paint is None
