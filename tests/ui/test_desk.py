"""The desk: opening, drags, answers that come late or badly, saving and recovery; no window."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from housingdesk.document.autosave import Autosaver
from housingdesk.document.document import Save
from housingdesk.document.printers import OwnPrinter
from housingdesk.files.project import load_project, save_project
from housingdesk.jobs.messages import Build, Export, FindLandmarks, LoadParts, Propose
from housingdesk.spec.edits import set_clearance, set_parting_height, set_pull, set_wall
from housingdesk.spec.edits_shell import change_printer
from housingdesk.spec.models import PrinterSpec
from housingdesk.ui import partdesk
from housingdesk.ui.desk import Desk
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window


def test_a_part_becomes_a_complete_housing(open_desk: Desk, clients: list[InlineClient]) -> None:
    assert [type(j) for j in clients[0].jobs[:3]] == [LoadParts, Propose, Build]
    # The halves first, then their proof, then the play: each takes as long as all before it.
    builds = [(j.quality, j.upto) for j in clients[0].jobs if isinstance(j, Build)]
    assert builds == [("draft", "halves"), ("final", "halves"), ("final", "proof"), ("final", "play")]
    assert open_desk.spec is not None
    assert open_desk.spec.parting.height_mm == 5.0  # the best proposal's
    assert not open_desk.modified
    assert not open_desk.undo_label


def test_the_first_plane_of_a_very_fine_part_is_looked_for_one_way_only(
    desk: Desk, part_file: Path, clients: list[InlineClient], qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(partdesk, "ALL_WAYS_UP_TO", 11)  # the block has 12
    desk.open_part(part_file)
    qtbot.waitUntil(lambda: desk.spec is not None)
    assert [j.pull for j in clients[0].jobs if isinstance(j, Propose)] == ["+z"]
    desk.ask_proposals()  # on the user's wish, all ways
    assert [j.pull for j in clients[0].jobs if isinstance(j, Propose)] == ["+z", None]


def test_the_printer_is_the_users_and_the_pose_is_not(
    open_desk: Desk, part_file: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    open_desk.set_pose("assembled")
    open_desk.apply(change_printer(process="resin", hole_correction_mm=0.13))
    saved = tmp_path / "block.hdesk"
    assert open_desk.save(saved)
    assert open_desk.finish_saving()
    open_desk.open_part(part_file)
    qtbot.waitUntil(lambda: open_desk.path is None)
    assert open_desk.spec is not None
    assert open_desk.spec.printer == PrinterSpec(process="resin", hole_correction_mm=0.13)
    assert open_desk.pose == "print"
    open_desk.apply(change_printer(spread_mm=0.05))
    open_desk.open_project(saved)
    qtbot.waitUntil(lambda: open_desk.path == saved)
    assert open_desk.spec.printer == PrinterSpec(process="resin", hole_correction_mm=0.13)  # its own copy
    open_desk.open_part(part_file)
    qtbot.waitUntil(lambda: open_desk.path is None)
    assert open_desk.spec.printer.spread_mm == 0.05  # opening a housing describes no printer


def test_a_broken_printer_file_is_the_usual_printer(tmp_path: Path) -> None:
    own = OwnPrinter(tmp_path / "new")
    assert own.read() == PrinterSpec()
    own.write(PrinterSpec(spread_mm=0.1))
    assert own.read() == PrinterSpec(spread_mm=0.1)
    (tmp_path / "new" / "printer.json").write_text('{"spread_mm": -3}', encoding="utf-8")
    assert own.read() == PrinterSpec()
    OwnPrinter(tmp_path / "new" / "printer.json").write(PrinterSpec())  # no folder: left


def test_a_guessed_unit_is_told(desk: Desk, part_file: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignal(desk.said) as heard:
        desk.open_part(part_file)
    assert "read as mm" in heard.args[0]


def test_a_drag_is_drafts_then_one_final_and_one_undo_step(
    open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    before = len(clients[0].jobs)
    open_desk.begin_drag()
    for height in (5.5, 6.0, 6.5, 7.0):
        open_desk.apply(set_parting_height(height))
    open_desk.end_drag()
    assert [j.quality for j in clients[0].jobs[before:]] == ["draft"] * 4
    qtbot.waitUntil(lambda: not open_desk.stale)
    qtbot.waitUntil(lambda: len(clients[0].jobs) == before + 7)
    builds = [(j.quality, j.upto) for j in clients[0].jobs[before:] if isinstance(j, Build)]
    finals = [("final", "halves"), ("final", "proof"), ("final", "play")]
    assert builds == [("draft", "halves")] * 4 + finals
    open_desk.undo()
    assert open_desk.spec is not None
    assert open_desk.spec.parting.height_mm == 5.0
    assert not open_desk.undo_label
    assert open_desk.redo_label == "Parting plane at 7 mm"


def test_a_refused_edit_is_told_and_changes_nothing(open_desk: Desk, qtbot: QtBot) -> None:
    before = open_desk.spec
    with qtbot.waitSignal(open_desk.said) as heard:
        assert not open_desk.apply(set_parting_height(99.0))
    assert "parting plane" in heard.args[0].lower()
    assert open_desk.spec == before


def test_a_failed_build_keeps_the_last_good_halves(
    open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    good = open_desk.result
    clients[0].refuse[Build] = "The wall is too thin for this part; choose a thicker one."
    open_desk.apply(set_wall(0.5))
    qtbot.waitUntil(lambda: bool(open_desk.failure))
    assert open_desk.failure.startswith("The wall is too thin")
    assert open_desk.result is good
    assert open_desk.halves_stale
    clients[0].refuse.clear()
    open_desk.apply(set_wall(3.0))
    qtbot.waitUntil(lambda: not open_desk.stale)
    assert open_desk.failure == ""


def test_what_goes_wrong_in_the_worker_is_logged(
    open_desk: Desk, clients: list[InlineClient], caplog: pytest.LogCaptureFixture, qtbot: QtBot
) -> None:
    clients[0].refuse[Build], clients[0].traceback = "Something went wrong.", "Traceback: here"
    open_desk.apply(set_clearance(0.7))
    qtbot.waitUntil(lambda: bool(open_desk.failure))
    assert [r.getMessage() for r in caplog.records] == ["Traceback: here"]


def test_answers_for_a_housing_no_longer_open_are_dropped(
    open_desk: Desk, clients: list[InlineClient], part_file: Path, qtbot: QtBot
) -> None:
    clients[0].held = True
    open_desk.apply(set_wall(4.0))
    late = clients[0].kept[-1]
    open_desk.close_project()
    clients[0].held = False
    open_desk.open_part(part_file)
    clients[0]._answer(*late)
    qtbot.waitUntil(lambda: open_desk.proof is not None)
    assert open_desk.result is not None
    assert open_desk.result.spec.shell.wall_mm == 2.4


def test_stopping_cancels_and_says_so(open_desk: Desk, clients: list[InlineClient]) -> None:
    clients[0].held = True
    open_desk.apply(set_clearance(1.0))
    assert open_desk.busy
    open_desk.cancel()
    assert not open_desk.busy
    assert clients[0].cancelled
    assert open_desk.failure.startswith("Stopped")


def test_long_work_is_told_after_half_a_second(
    desk: Desk, part_file: Path, clients: list[InlineClient]
) -> None:
    clients[0].held = True
    now = [0.0]
    desk._waits.clock = lambda: now[0]
    desk.open_part(part_file)
    assert desk.progress is None
    now[0] = 0.6
    assert desk.progress is not None
    assert part_file.name in desk.progress.phrase


def test_writing_lists_the_files_and_a_change_makes_them_old(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    open_desk.write()
    qtbot.waitUntil(lambda: bool(open_desk.exported))
    assert {f.name for f in open_desk.exported} >= {"lower.stl", "upper.stl", "halves.3mf"}
    open_desk.apply(set_wall(3.0))
    assert open_desk.exported == ()
    clients[0].refuse[Export] = "The folder out cannot be written to; choose another."
    with qtbot.waitSignal(open_desk.said) as heard:
        open_desk.write()
    assert "choose another" in heard.args[0]


def test_save_close_and_open_again(open_desk: Desk, tmp_path: Path, qtbot: QtBot) -> None:
    open_desk.apply(set_wall(3.0))
    assert open_desk.modified
    path = tmp_path / "vent.hdesk"
    assert open_desk.save(path)
    assert open_desk.saving
    assert open_desk.finish_saving()
    assert not open_desk.modified
    saved = open_desk.spec
    open_desk.close_project()
    assert open_desk.spec is None
    open_desk.open_project(path)
    qtbot.waitUntil(lambda: open_desk.proof is not None)
    assert open_desk.spec == saved
    assert open_desk.path == path
    assert path in open_desk.library.recent()


def test_what_is_changed_while_a_save_runs_stays_unsaved(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    written, go_on = threading.Event(), threading.Event()

    def slowly(save: Save) -> None:
        assert threading.get_ident() != threading.main_thread().ident
        save_project(save.path, save.spec, save.meshes)
        written.set()
        assert go_on.wait(20)

    monkeypatch.setattr(Save, "write", slowly)
    path = tmp_path / "vent.hdesk"
    open_desk.apply(set_wall(3.0))
    open_desk.save(path)
    assert open_desk.saved_words == "saving…"
    assert written.wait(20)
    assert open_desk.modified  # until it is known to be on the disk
    open_desk.apply(set_wall(4.0))
    go_on.set()
    assert open_desk.finish_saving()
    assert open_desk.path == path
    assert open_desk.modified
    assert load_project(path)[0].shell.wall_mm == 3.0
    open_desk.undo()
    assert not open_desk.modified


def test_a_save_that_fails_is_told_and_leaves_the_work_unsaved(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot
) -> None:
    open_desk.apply(set_wall(3.0))
    (tmp_path / "file").write_bytes(b"")
    with qtbot.waitSignal(open_desk.said) as heard:
        open_desk.save(tmp_path / "file" / "vent.hdesk")  # a file is no folder
    assert "vent.hdesk" in heard.args[0] or "file" in heard.args[0]
    assert not open_desk.finish_saving()
    assert open_desk.modified
    assert open_desk.path is None
    assert not open_desk.saving


def test_a_bug_while_saving_does_not_keep_the_window_waiting(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(save: Save) -> None:
        raise ZeroDivisionError("as if by a bug")

    monkeypatch.setattr(Save, "write", broken)
    open_desk.apply(set_wall(3.0))
    with qtbot.captureExceptions() as caught:
        open_desk.save(tmp_path / "vent.hdesk")
        assert not open_desk.finish_saving()
    assert [kind for kind, *_ in caught] == [ZeroDivisionError]
    assert open_desk.modified


def test_a_reopened_project_snaps_to_the_parts_landmarks(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    path = tmp_path / "vent.hdesk"
    open_desk.save(path)
    assert open_desk.finish_saving()
    open_desk.close_project()
    assert open_desk.snap_heights_mm == ()
    open_desk._landmarks = (None, ())  # as in another session
    clients[0].held = True
    open_desk.open_project(path)
    qtbot.waitUntil(lambda: open_desk.spec is not None)
    assert open_desk.snap_heights_mm == (5.0,)  # the middle, while the worker looks
    clients[0].release()
    qtbot.waitUntil(lambda: not open_desk.stale)
    assert open_desk.snap_heights_mm == (5.0, 8.0)  # the stand-in's landmark
    assert not [j for j in clients[0].jobs if isinstance(j, Propose)][1:]  # no planes were suggested
    # Another pull has other landmarks; they are asked for once, when there is rest.
    asked = [j for j in clients[0].jobs if isinstance(j, FindLandmarks)]
    open_desk.apply(set_pull("+x"))
    assert 8.0 not in open_desk.snap_heights_mm
    qtbot.waitUntil(lambda: not open_desk.stale)
    open_desk.apply(set_wall(3.0))
    qtbot.waitUntil(lambda: not open_desk.stale)
    later = [j for j in clients[0].jobs if isinstance(j, FindLandmarks)][len(asked) :]
    assert [j.pull for j in later] == ["+x"]


def test_a_project_that_cannot_be_opened_is_told_and_what_is_open_stays(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot
) -> None:
    broken = tmp_path / "broken.hdesk"
    broken.write_bytes(b"PK half a zip")
    before = open_desk.spec
    with qtbot.waitSignal(open_desk.said) as heard:
        open_desk.open_project(broken)
    assert "broken.hdesk" in heard.args[0]
    assert open_desk.spec == before


def test_unsaved_work_is_recovered_after_a_crash(
    open_desk: Desk, tmp_path: Path, qtbot: QtBot, part_file: Path
) -> None:
    open_desk.apply(set_wall(3.4))
    open_desk.autosave()
    open_desk._background.wait()
    wanted = open_desk.spec
    # A crash: the system frees the lock, the files stay.
    lock = open_desk.library.autosaver._lock
    assert lock is not None
    lock.close()
    open_desk.library.autosaver._lock = None
    open_desk.library.autosaver = Autosaver(tmp_path / "data")
    offered = open_desk.library.recoveries()
    assert len(offered) == 1
    open_desk.close_project()
    open_desk.recover(offered[0][1])
    qtbot.waitUntil(lambda: open_desk.spec is not None)
    assert open_desk.spec == wanted
    assert open_desk.modified
    open_desk.save(tmp_path / "kept.hdesk")
    assert open_desk.finish_saving()
    assert open_desk.library.recoveries() == []
