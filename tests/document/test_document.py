"""The document: every edit done, undone and redone, compared each time."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.build.results import Quality
from housingdesk.document import history
from housingdesk.document.document import Document
from housingdesk.errors import FileError, SpecError
from housingdesk.files import project
from housingdesk.geometry.types import Mesh, Side
from housingdesk.spec import edits
from housingdesk.spec.models import PartSpec, Spec
from tests.document.samples import OTHER, PART, SPEC, document, result

BOARD = PartSpec(name="board", mesh_key=OTHER.key)
ALL = [
    edits.set_parting_height(5),
    edits.set_pull("-x"),
    edits.set_pull("+y", 3),
    edits.set_clearance(0.7),
    edits.set_seal(2),
    edits.set_wall(3),
    edits.set_side("left", 9),
    edits.set_unit("motor", "cm"),
    edits.set_scale_by_measure("motor", 23, 20),
    edits.place("motor", np.array([[0, -1, 0, 5], [1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])),
    edits.turn("motor", (0, 0, 1), 30),
    edits.lay_flat("motor", (1, 1, 1)),
    edits.centre("motor"),
    edits.add_part(BOARD, OTHER),
    edits.rename("motor", "drive"),
    edits.rename_housing("Vent drive"),
]


@pytest.mark.parametrize("edit", ALL, ids=[e.label for e in ALL])
def test_do_undo_redo_compare_each_time(edit: edits.Edit) -> None:
    d = document()
    seen: list[tuple[Spec, Spec]] = []
    d.spec_changed.connect(lambda old, new: seen.append((old, new)))
    d.apply(edit)
    done = d.spec
    assert done == edit.apply(SPEC, d.meshes) != SPEC
    assert (d.can_undo, d.can_redo, d.undo_label, d.redo_label) == (True, False, edit.label, None)
    d.undo()
    assert d.spec == SPEC
    assert (d.can_undo, d.can_redo, d.undo_label, d.redo_label) == (False, True, None, edit.label)
    d.redo()
    assert d.spec == done
    assert seen == [(SPEC, done), (done, SPEC), (SPEC, done)]


def test_removing_a_part_can_be_undone_with_its_mesh() -> None:
    d = document()
    d.apply(edits.add_part(BOARD, OTHER))
    d.apply(edits.remove_part("motor"))
    d.undo()
    assert [p.name for p in d.spec.parts] == ["motor", "board"]
    assert dict(d.meshes) == {PART.key: PART, OTHER.key: OTHER}


def test_an_edit_that_is_refused_changes_nothing() -> None:
    d = document()
    d.apply(edits.set_wall(3))
    before, said = d.spec, []
    d.spec_changed.connect(lambda old, new: said.append(new))
    for edit in (edits.set_wall(-1), edits.remove_part("motor"), edits.set_parting_height(99)):
        with pytest.raises(SpecError):
            d.apply(edit)
    assert (d.spec, said, d.undo_label) == (before, [], edits.set_wall(3).label)


def test_an_edit_without_effect_is_no_step_and_keeps_redo() -> None:
    d = document()
    d.apply(edits.set_wall(3))
    d.undo()
    d.apply(edits.set_wall(SPEC.shell.wall_mm))
    assert not d.can_undo
    assert d.can_redo


def test_a_new_edit_ends_what_could_be_redone() -> None:
    d = document()
    d.apply(edits.set_wall(3))
    d.undo()
    d.apply(edits.set_clearance(1))
    assert not d.can_redo


# --- drags ------------------------------------------------------------------------------------------


def drag(d: Document, make: Callable[[float], edits.Edit], *values: float) -> None:
    for value in values:
        d.apply(make(value))
    d.end_drag()


def test_a_drag_is_one_step_with_its_last_label() -> None:
    d = document()
    drag(d, edits.set_parting_height, 5, 6, 7)
    assert d.undo_label == "Parting plane at 7 mm"
    end = d.spec
    d.undo()
    assert d.spec == SPEC
    assert not d.can_undo
    d.redo()
    assert d.spec == end


def test_two_drags_are_two_steps() -> None:
    d = document()
    drag(d, edits.set_wall, 3, 4)
    drag(d, edits.set_wall, 5, 6)
    d.undo()
    assert d.spec.shell.wall_mm == 4
    d.undo()
    assert d.spec == SPEC


def test_another_control_ends_a_drag() -> None:
    d = document()
    d.apply(edits.set_wall(3))
    d.apply(edits.set_clearance(1))
    d.apply(edits.set_wall(4))
    for wall, clearance in ((3, 1), (3, 0.5), (2.4, 0.5)):
        d.undo()
        assert (d.spec.shell.wall_mm, d.spec.fit.clearance_mm) == (wall, clearance)
    assert d.spec == SPEC


def test_undo_ends_a_drag() -> None:
    d = document()
    d.apply(edits.set_wall(3))
    d.undo()
    d.apply(edits.set_wall(4))
    d.undo()
    assert d.spec == SPEC


def test_a_drag_back_to_its_start_leaves_no_step() -> None:
    d = document()
    d.apply(edits.set_clearance(1))
    drag(d, edits.set_wall, 3, 4, SPEC.shell.wall_mm)
    assert d.undo_label == edits.set_clearance(1).label
    drag(d, edits.set_wall, 3, SPEC.shell.wall_mm, 5)
    assert d.undo_label == edits.set_wall(5).label


def test_history_is_bounded() -> None:
    h = history.History(SPEC, depth=3)
    specs = [edits.set_wall(1 + i).apply(SPEC, {}) for i in range(10)]
    for spec in specs:
        h.push("wall", spec)
    undone = []
    while h.undo():
        undone.append(h.spec)
    assert undone == [specs[8], specs[7], specs[6]]


ACTIONS = st.one_of(
    st.sampled_from(ALL),
    st.builds(edits.set_wall, st.floats(0.4, 50)),
    st.builds(edits.set_parting_height, st.floats(0.1, 19)),
    st.sampled_from(["end", "undo", "redo"]),
)


@given(st.lists(ACTIONS, max_size=25))
def test_undoing_all_is_the_start_and_redoing_all_is_the_end(actions: list[edits.Edit | str]) -> None:
    d = document()
    told = [SPEC]
    d.spec_changed.connect(lambda old, new: told.append(new) if old == told[-1] else told.clear())
    for action in actions:
        if isinstance(action, str):
            {"end": d.end_drag, "undo": d.undo, "redo": d.redo}[action]()
            continue
        before = d.spec
        try:
            d.apply(action)
        except SpecError:
            assert d.spec == before
    while d.can_redo:
        d.redo()
    d.end_drag()
    back = [d.spec]
    while d.can_undo:
        d.undo()
        back.append(d.spec)
    assert back[-1] == SPEC
    assert d.modified is False
    forth = [d.spec]
    while d.can_redo:
        d.redo()
        forth.append(d.spec)
    assert forth == back[::-1]
    assert all(a != b for a, b in itertools.pairwise(back))  # no step does nothing
    assert told[-1] == d.spec  # whoever only listens knows the same


# --- saving -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["vent.hdesk", "vent"])
def test_saved_and_opened_again(tmp_path: Path, name: str) -> None:
    d = document()
    d.apply(edits.add_part(BOARD, OTHER))
    d.apply(edits.set_wall(3))
    d.save(tmp_path / name)
    again = Document.open(tmp_path / name)
    assert again.spec == d.spec
    assert again.path == d.path == tmp_path / name
    assert {k: m.key for k, m in again.meshes.items()} == {PART.key: PART.key, OTHER.key: OTHER.key}
    assert (again.modified, again.can_undo) == (False, False)


def test_modified_follows_the_spec_not_the_clicks(tmp_path: Path) -> None:
    d = document()
    assert not d.modified
    d.apply(edits.set_wall(3))
    assert d.modified
    d.save(tmp_path / "a.hdesk")
    assert not d.modified
    d.undo()
    assert d.modified
    d.redo()
    assert not d.modified
    d.apply(edits.set_wall(4))
    d.apply(edits.set_wall(3))
    assert not d.modified


def test_saving_splits_a_drag(tmp_path: Path) -> None:
    d = document()
    d.apply(edits.set_wall(3))
    d.save(tmp_path / "a.hdesk")
    d.apply(edits.set_wall(4))
    d.undo()
    assert (d.spec.shell.wall_mm, d.modified) == (3, False)


def test_a_failed_save_leaves_the_old_file_and_the_modified_mark(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    d = document()
    d.save(tmp_path / "a.hdesk")
    old = (tmp_path / "a.hdesk").read_bytes()
    d.apply(edits.set_wall(3))

    def full(mesh: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(project, "ply_bytes", full)
    with pytest.raises(FileError, match="disk is full"):
        d.save()
    assert (tmp_path / "a.hdesk").read_bytes() == old
    assert [p.name for p in tmp_path.iterdir()] == ["a.hdesk"]
    assert d.modified


def test_a_document_without_a_path_asks_for_one() -> None:
    with pytest.raises(ValueError, match="needs a path"):
        document().save()


# --- results ----------------------------------------------------------------------------------------


def test_the_last_good_result_stays_and_is_marked_out_of_date() -> None:
    d = document()
    told = []
    d.result_changed.connect(told.append)
    assert (d.result, d.stale) == (None, False)
    first = result(d.spec, 1)
    d.take_result(first)
    assert (d.result, d.stale) == (first, False)
    d.apply(edits.set_wall(3))
    assert d.stale
    d.take_failure("It does not fit.")
    assert (d.result, d.stale, d.last_failure) == (first, True, "It does not fit.")
    second = result(d.spec, 3)
    d.take_result(second)
    assert d.result is not None
    assert (d.result.generation, d.stale, d.last_failure) == (3, False, None)
    d.take_result(result(SPEC, 2))  # late
    assert d.result.generation == 3
    d.undo()
    assert d.stale
    assert [r.generation for r in told] == [1, 3]


def test_parts_that_have_not_moved_keep_their_copies() -> None:
    """Results come from another process, each with its own copy of the parts."""
    d = document()
    d.take_result(replace(result(d.spec, 1), parts=(copy_of(PART),)))
    assert d.result is not None
    first = d.result.parts[0]
    d.apply(edits.set_wall(3))
    d.take_result(replace(result(d.spec, 2), parts=(copy_of(PART),)))
    assert d.result.parts[0] is first
    d.apply(edits.set_pull("-z"))
    turned = copy_of(PART)
    d.take_result(replace(result(d.spec, 3), parts=(turned,)))
    assert d.result.parts[0] is turned


def test_halves_of_which_only_more_is_known_keep_their_copies() -> None:
    """First the halves come, then their proof, then the play: the bench has nothing new to draw."""
    d = document()

    def take(number: int, quality: Quality) -> dict[Side, Mesh]:
        halves: dict[Side, Mesh] = {"lower": copy_of(PART), "upper": copy_of(PART)}
        d.take_result(replace(result(d.spec, number), quality=quality, halves=halves))
        assert d.result is not None
        return d.result.halves

    draft, final = take(1, "draft"), take(2, "final")
    assert final is not draft
    assert take(3, "final") is final
    d.apply(edits.set_wall(3))
    assert take(4, "final") is not final


def copy_of(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices.copy(), mesh.faces.copy())


def test_state_is_announced_after_it_changed(tmp_path: Path) -> None:
    d = document()
    seen: list[tuple[object, ...]] = []
    d.state_changed.connect(lambda: seen.append((d.undo_label, d.modified, d.stale, d.last_failure)))
    d.take_result(result(d.spec, 1))
    d.apply(edits.set_wall(3))
    d.take_failure("No.")
    d.save(tmp_path / "a.hdesk")
    assert seen == [
        (None, False, False, None),
        ("Wall 3 mm", True, True, None),
        ("Wall 3 mm", True, True, "No."),
        ("Wall 3 mm", False, True, "No."),
    ]
