"""What the program proposed follows the part until the user touches it; a swap tells what it lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from pytestqt.qtbot import QtBot

from housingdesk.build.turning import propose_zones
from housingdesk.build.zoning import reference
from housingdesk.document.untouched import Untouched
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.jobs.messages import FindZones, Propose
from housingdesk.spec.edits import rename, set_clearance, set_parting_height, turn
from housingdesk.spec.edits_features import add_zone, change_zone
from housingdesk.spec.models import PartingSpec, Spec
from housingdesk.spec.part_edits import part_of_shapes, set_shapes
from housingdesk.spec.shapes import Block, Round
from housingdesk.spec.zones import ZoneSpec
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.part import PartStation
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient, write_motor
from tests.ui.test_window import settle, station, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures

BLOCK = Block(long_mm=30, wide_mm=20, high_mm=10)
SHAFT = Round(diameter_mm=5, long_mm=12, way="+x", x_mm=14.0, z_mm=6.0)


def shaft_of(part: str, mesh: Mesh) -> ZoneSpec:
    (zone,) = propose_zones(part, find_patches(mesh), mesh.vertices[mesh.faces])
    return zone


def zones_of(desk: Desk) -> list[str]:
    assert desk.spec is not None
    return [z.name for z in desk.spec.fit.zones]


def asked(client: InlineClient) -> list[Propose]:
    return [j for j in client.jobs if isinstance(j, Propose)]


@pytest.fixture
def measured(desk: Desk, clients: list[InlineClient], qtbot: QtBot) -> Desk:
    desk.measure_part("drive", (BLOCK,))
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=10_000)
    clients[0].zones = (shaft_of("drive", part_of_shapes("drive", (BLOCK, SHAFT))[1]),)
    return desk


def test_changed_readings_are_looked_at_anew_in_the_same_step(
    measured: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    before = measured.spec
    measured.apply(set_shapes("drive", (BLOCK, SHAFT)))
    qtbot.waitUntil(lambda: zones_of(measured) == ["shaft"], timeout=10_000)
    assert asked(clients[0])[-1].find_zones
    assert measured.spec is not None
    assert measured.spec.parting.height_mm == 5.0  # the stand-in's best, half the height
    qtbot.waitUntil(lambda: not measured.stale)
    measured.undo()
    assert measured.spec == before  # the user did one thing
    measured.redo()
    assert zones_of(measured) == ["shaft"]
    # And again, with a plane that only a proposal can have kept there.
    measured.apply(set_shapes("drive", (BLOCK.model_copy(update={"high_mm": 14.0}), SHAFT)))
    qtbot.waitUntil(lambda: not measured.stale)
    assert measured.spec.parting.height_mm == 7.0


@pytest.mark.parametrize(
    "edit", [set_parting_height(4.0), turn("drive", (0, 0, 1), 90.0)], ids=["plane", "turned"]
)
def test_what_the_user_touched_is_never_proposed_anew(
    measured: Desk, clients: list[InlineClient], qtbot: QtBot, edit: object
) -> None:
    taller = BLOCK.model_copy(update={"high_mm": 20.0})
    measured.apply(edit)  # type: ignore[arg-type]
    qtbot.waitUntil(lambda: not measured.stale)
    count = len(asked(clients[0]))
    measured.apply(set_shapes("drive", (taller, SHAFT)))
    qtbot.waitUntil(lambda: not measured.stale)
    assert len(asked(clients[0])) == count
    assert zones_of(measured) == []
    measured.undo()
    measured.undo()  # all taken back: it is the program's again
    measured.apply(set_shapes("drive", (taller, SHAFT)))
    qtbot.waitUntil(lambda: zones_of(measured) == ["shaft"], timeout=10_000)


def test_an_answer_that_comes_too_late_is_dropped(
    measured: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    clients[0].held = True
    measured.apply(set_shapes("drive", (BLOCK, SHAFT)))
    qtbot.waitUntil(lambda: any(isinstance(j, Propose) for _, j in clients[0].kept), timeout=10_000)
    measured.apply(set_parting_height(3.0))
    clients[0].release()
    qtbot.waitUntil(lambda: not measured.stale)
    assert measured.spec is not None
    assert (measured.spec.parting.height_mm, zones_of(measured)) == (3.0, [])


def test_what_follows_the_part_is_told_from_what_the_user_changed() -> None:
    part, mesh = part_of_shapes("drive", (BLOCK,))
    meshes = {mesh.key: mesh}

    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=5.0))
    own = Untouched()
    assert not own.has_plane(spec)
    own.begin(spec)
    taller = set_shapes("drive", (BLOCK.model_copy(update={"high_mm": 20.0}),)).apply(spec, meshes)
    own.follow(spec, taller)
    assert taller.parting.height_mm == 10.0
    assert own.has_plane(taller) and own.has_zones(taller)
    meshes |= set_shapes("drive", taller.parts[0].shapes).brings
    meshes |= set_shapes("drive", taller.parts[0].shapes).brings
    moved = set_parting_height(6.0).apply(taller, meshes)
    own.follow(taller, moved)
    assert not own.has_plane(moved) and own.has_zones(moved)


# --- another file in a part's place -------------------------------------------------------------------


@pytest.fixture
def motor(window: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot) -> MainWindow:
    """A housing around a motor's file, its shaft proposed as turning."""
    path = write_motor(tmp_path, (40.0, 20.0, 14.0))
    body = trimesh.load_mesh(path)
    mesh = Mesh(np.asarray(body.vertices), np.asarray(body.faces, np.int32))
    clients[0].zones = (shaft_of("motor", mesh),)
    window.open_path(path)
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=10_000)
    assert zones_of(window.desk) == ["shaft"]
    return window


def swap(window: MainWindow, path: Path, qtbot: QtBot) -> PartStation:
    found = station(window, "Part")
    assert isinstance(found, PartStation)
    assert window.desk.spec is not None
    window.desk.swap_part(window.desk.spec.parts[0].name, path)
    qtbot.waitUntil(lambda: window.desk.swapped is not None, timeout=10_000)
    settle(window, qtbot)
    return found


def test_a_newer_file_of_the_same_part_keeps_its_zones_and_says_so(
    motor: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    assert motor.desk.spec is not None
    count = len(motor.desk.spec.fit.zones[0].patches)
    newer = (tmp_path / "motor.stl").rename(tmp_path / "motor_b.stl")
    found = swap(motor, newer, qtbot)
    assert motor.desk.spec.name == motor.desk.spec.parts[0].name == "motor_b"  # the stand-in's way to name it
    assert found.name_edit.text() == "motor_b"
    assert found.size_note.text().startswith("From motor_b.stl. It measures")
    assert found.swapped.text() == f"Faces found again on motor_b.stl: shaft: {count} of {count}."
    assert not found.take_offer.isVisible()
    motor.desk.undo()
    assert not found.swapped.isVisible()


def test_a_name_that_the_user_gave_stays(motor: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:

    motor.desk.apply(rename("motor", "pump"))
    swap(motor, (tmp_path / "motor.stl").rename(tmp_path / "motor_b.stl"), qtbot)
    assert motor.desk.spec is not None
    assert motor.desk.spec.parts[0].name == "pump"


def second(folder: Path) -> tuple[Path, Mesh]:
    """Another motor's file, and its surface."""
    (folder / "more").mkdir()
    path = write_motor(folder / "more", (30.0, 16.0, 12.0)).rename(folder / "fan.stl")
    body = trimesh.load_mesh(path)
    return path, Mesh(np.asarray(body.vertices), np.asarray(body.faces, np.int32))


def parts_of(desk: Desk) -> list[str]:
    assert desk.spec is not None
    return [p.name for p in desk.spec.parts]


def test_a_second_parts_shaft_is_proposed_with_it(
    motor: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot
) -> None:
    path, mesh = second(tmp_path)
    clients[0].zones += (shaft_of("fan", mesh),)
    motor.desk.add_part(path)
    qtbot.waitUntil(lambda: len(zones_of(motor.desk)) == 2, timeout=10_000)
    assert motor.desk.spec is not None
    assert [(z.name, z.part) for z in motor.desk.spec.fit.zones] == [("shaft", "motor"), ("shaft 2", "fan")]
    motor.desk.undo()  # the part and its zone are one step
    assert (parts_of(motor.desk), zones_of(motor.desk)) == (["motor"], ["shaft"])
    motor.desk.redo()
    assert zones_of(motor.desk) == ["shaft", "shaft 2"]
    # They are the program's own still: a third part has its shaft proposed too.
    clients[0].zones += (shaft_of("fan 2", mesh),)
    motor.desk.add_part(path)
    qtbot.waitUntil(lambda: zones_of(motor.desk) == ["shaft", "shaft 2", "shaft 3"], timeout=10_000)


def test_a_second_part_measured_by_calipers_has_its_shaft_too(
    measured: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    clients[0].zones = (shaft_of("pump", part_of_shapes("pump", (BLOCK, SHAFT))[1]),)
    measured.add_measured("pump", (BLOCK, SHAFT))
    qtbot.waitUntil(lambda: zones_of(measured) == ["shaft"], timeout=10_000)
    assert measured.spec is not None
    assert measured.spec.fit.zones[0].part == "pump"


def test_zones_that_the_user_touched_get_no_more(
    motor: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot
) -> None:
    assert motor.desk.spec is not None
    motor.desk.apply(change_zone("shaft", clearance_mm=0.7))
    path, mesh = second(tmp_path)
    clients[0].zones += (shaft_of("fan", mesh),)
    motor.desk.add_part(path)
    qtbot.waitUntil(lambda: any(isinstance(j, FindZones) for j in clients[0].jobs), timeout=10_000)
    settle(motor, qtbot)
    assert (parts_of(motor.desk), zones_of(motor.desk)) == (["motor", "fan"], ["shaft"])


def test_a_part_taken_back_before_its_shaft_is_found_gets_none(
    motor: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot
) -> None:
    path, mesh = second(tmp_path)
    clients[0].zones += (shaft_of("fan", mesh),)
    clients[0].held = True
    motor.desk.add_part(path)
    (generation, job) = clients[0].kept.pop()
    clients[0]._answer(generation, job)  # the file is read
    qtbot.waitUntil(lambda: parts_of(motor.desk) == ["motor", "fan"], timeout=10_000)
    motor.desk.undo()
    clients[0].release()
    settle(motor, qtbot)
    assert (parts_of(motor.desk), zones_of(motor.desk)) == (["motor"], ["shaft"])


def longer(folder: Path) -> tuple[Path, Mesh]:
    """A motor whose shaft comes out elsewhere."""
    (folder / "b").mkdir()
    path = write_motor(folder / "b", (40.0, 20.0, 14.0))
    body = trimesh.load_mesh(path)
    body.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 0, 1)))
    path = path.rename(folder / "fan.stl")
    body.export(path)
    body = trimesh.load_mesh(path)
    return path, Mesh(np.asarray(body.vertices), np.asarray(body.faces, np.int32))


@pytest.mark.parametrize("touched", [False, True], ids=["plane proposed", "plane touched"])
def test_a_lost_zone_of_the_programs_own_is_proposed_anew(
    motor: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot, touched: bool
) -> None:
    if touched:
        motor.desk.apply(set_parting_height(5.0))
    count = len(asked(clients[0]))
    path, mesh = longer(tmp_path)
    clients[0].zones = (shaft_of("fan", mesh),)
    found = swap(motor, path, qtbot)
    assert motor.desk.spec is not None
    (zone,) = motor.desk.spec.fit.zones
    assert (zone.part, zone.patches) == ("fan", clients[0].zones[0].patches)
    assert (
        "shaft: 0 of" in found.swapped.text() and "what the program sees on it: shaft" in found.swapped.text()
    )
    assert len(asked(clients[0])) == (count if touched else count + 1)  # only the program's own plane
    assert motor.desk.spec.parting.height_mm == (5.0 if touched else 7.0)
    motor.desk.undo()  # the swap and what came of it are one step
    assert motor.desk.spec.parts[0].name == "motor"


def test_a_lost_zone_of_the_users_is_offered_anew(
    motor: MainWindow, clients: list[InlineClient], tmp_path: Path, qtbot: QtBot
) -> None:
    assert motor.desk.spec is not None
    body = motor.desk.meshes[motor.desk.spec.parts[0].mesh_key]
    top = next(p for p in find_patches(body) if p.kind == "flat" and p.axis[2] > 0.9)
    motor.desk.apply(add_zone(ZoneSpec(name="lid", part="motor", patches=(reference(top),), clearance_mm=1)))
    path, mesh = longer(tmp_path)
    clients[0].zones = (shaft_of("fan", mesh),)
    found = swap(motor, path, qtbot)
    old = motor.desk.spec.fit.zones
    assert [z.name for z in old] == ["shaft", "lid"]
    assert "Pick those of shaft" in found.swapped.text()
    qtbot.waitUntil(found.take_offer.isVisible)
    found.take_offer.click()
    assert motor.desk.spec.fit.zones[-1].patches == clients[0].zones[0].patches
    assert "shaft" in zones_of(motor.desk)
    assert not found.take_offer.isVisible()
    (job,) = (j for j in clients[0].jobs if isinstance(j, FindZones))
    assert [z.name for z in job.zones] == ["shaft", "lid"]


def test_a_clearance_of_the_body_is_no_touch(
    measured: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    measured.apply(set_clearance(0.7))
    qtbot.waitUntil(lambda: not measured.stale)
    measured.apply(set_shapes("drive", (BLOCK, SHAFT)))
    qtbot.waitUntil(lambda: zones_of(measured) == ["shaft"], timeout=10_000)
    assert measured.spec is not None
    assert measured.spec.fit.clearance_mm == 0.7
