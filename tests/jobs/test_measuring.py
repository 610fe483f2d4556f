"""Answers that the window asks for on demand, from the real worker's handler and over its wire."""

from __future__ import annotations

from multiprocessing.connection import Pipe
from threading import Thread
from typing import Any

import numpy as np
import pytest

from housingdesk.files.write import write_stl
from housingdesk.geometry.solid import Solid
from housingdesk.jobs import wire
from housingdesk.jobs.engine import make_handler
from housingdesk.jobs.messages import (
    ClearanceMapped,
    FindRelief,
    Job,
    Loaded,
    LoadParts,
    MapClearance,
    MeasurePlay,
    PlayMeasured,
    ReliefFound,
)
from housingdesk.jobs.worker import Handler
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec


def tell(phrase: str, share: float | None = None) -> None:
    pass


def over_the_wire(value: object) -> Any:
    near, far = Pipe()
    sender = Thread(target=wire.send, args=(near, value))
    sender.start()
    got = wire.receive(far)
    sender.join()
    return got


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> tuple[Handler, Spec]:
    folder = tmp_path_factory.mktemp("measuring")
    handler = make_handler(folder / "store", tell)
    write_stl(folder / "block.stl", Solid.box(np.zeros(3), np.array([20.0, 12.0, 8.0])).mesh(), "block")
    loaded = handler(LoadParts(folder / "block.stl", "mm"), 1, tell)
    assert isinstance(loaded, Loaded)
    part = PartSpec(name="block", mesh_key=loaded.parts[0].mesh.key, unit="mm")
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=4.0), fit=FitSpec(clearance_mm=1.0))
    return handler, spec


def ask(desk: tuple[Handler, Spec], job: Job) -> Any:
    return over_the_wire(desk[0](job, 2, tell))


def test_map_play_and_relief_of_a_block(desk: tuple[Handler, Spec]) -> None:
    spec = desk[1]
    mapped = ask(desk, MapClearance(spec))
    assert isinstance(mapped, ClearanceMapped)
    assert mapped.map.figures_mm == pytest.approx((1, 1, 1), abs=0.03)
    cavity = ask(desk, MapClearance(spec, "cavity"))
    assert cavity.map.figures_mm[0] == pytest.approx(1, abs=0.03)
    played = ask(desk, MeasurePlay(spec))
    assert isinstance(played, PlayMeasured)
    for pair in (played.facts.now.x_mm, played.facts.now.y_mm, played.facts.now.z_mm):
        assert pair == pytest.approx((1, 1), abs=0.03)
    relief = ask(desk, FindRelief(spec))
    assert isinstance(relief, ReliefFound)
    assert {side: body.triangles for side, body in relief.bodies.items()} == {"lower": 0, "upper": 0}
