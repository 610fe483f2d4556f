"""The keyed graph: what is made once, side by side, and which failure is told."""

from __future__ import annotations

import threading

import pytest

from housingdesk.build.graph import Graph, Node
from housingdesk.errors import SpecError
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec

PART = PartSpec(name="part", mesh_key="m")
SPEC = Spec(parts=(PART,), parting=PartingSpec(pull="+z", height_mm=1.0), fit=FitSpec(), shell=ShellSpec())


def node(name, run, *inputs, by_quality=True, reads=lambda _: None):
    return Node(name, 1, reads, inputs, run, by_quality, phrase=name)


def test_inputs_that_do_not_wait_for_each_other_are_made_side_by_side():
    both = threading.Barrier(2, timeout=20)  # breaks where one is made after the other

    def wait(_wish, _quality, *_):
        both.wait()
        return 1

    graph = Graph((node("a", wait), node("b", wait), node("c", lambda _w, _q, a, b: a + b, "a", "b")))
    assert graph.value("c", SPEC, "final") == 2


def test_what_two_steps_build_on_is_made_once():
    made = []

    def base(_wish, _quality):
        made.append(1)
        return 5

    graph = Graph(
        (
            node("base", base),
            node("a", lambda _w, _q, x: x + 1, "base"),
            node("b", lambda _w, _q, x: x + 2, "base"),
            node("c", lambda _w, _q, *all_: all_, "a", "b", "base"),
        )
    )
    told: list[str] = []
    assert graph.value("c", SPEC, "draft", lambda phrase, _share: told.append(phrase)) == (6, 7, 5)
    assert made == [1]
    assert sorted(told) == ["a", "b", "base", "c"] and told[0] == "base" and told[-1] == "c"
    assert graph.value("c", SPEC, "draft") == (6, 7, 5) and made == [1]


def test_the_first_input_to_fail_is_told_and_the_next_request_tries_again():
    broken = [True]
    late = threading.Event()

    def first(_wish, _quality):
        late.wait(20)
        if broken[0]:
            raise SpecError("first")
        return 1

    def second(_wish, _quality):
        late.set()
        if broken[0]:
            raise SpecError("second")
        return 2

    graph = Graph((node("a", first), node("b", second), node("c", lambda _w, _q, a, b: a + b, "a", "b")))
    for _ in range(2):
        with pytest.raises(SpecError, match="first"):
            graph.value("c", SPEC, "final")
    broken[0] = False
    assert graph.value("c", SPEC, "final") == 3


def test_a_draft_takes_the_final_value_where_it_is_known():
    graph = Graph((node("a", lambda _w, quality: quality), node("b", lambda _w, _q, a: a, "a")))
    assert graph.value("b", SPEC, "draft") == "draft"
    assert graph.value("a", SPEC, "final") == "final"
    assert graph.value("a", SPEC, "draft") == "final"


def test_a_key_follows_what_a_step_reads_and_builds_on_and_nothing_else():
    graph = Graph(
        (
            node("a", lambda *_: 0, reads=lambda s: s.parting.height_mm),
            node("b", lambda *_: 0, "a"),
            node("other", lambda *_: 0, reads=lambda s: s.parting.pull, by_quality=False),
        )
    )
    moved = SPEC.model_copy(update={"parting": PartingSpec(pull="+z", height_mm=2.0)})
    assert graph.key("b", SPEC, "final") != graph.key("b", moved, "final")
    assert graph.key("b", SPEC, "final") != graph.key("b", SPEC, "draft")
    assert graph.key("other", SPEC, "final") == graph.key("other", moved, "draft")
