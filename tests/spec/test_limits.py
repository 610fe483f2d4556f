"""Every limit of the spec is refused with a sentence that names the thing and its range."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from pydantic import ValidationError

from housingdesk.spec.limits import sentence_of
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec

GOOD: dict[str, Any] = {"parts": [{"name": "motor", "mesh_key": "k"}], "parting": {"height_mm": 3}}


def _whole(**changes: Any) -> Callable[[], Spec]:
    return lambda: Spec.model_validate({**GOOD, **changes})


CASES: list[tuple[Callable[[], object], str]] = [
    (lambda: ShellSpec(wall_mm=0), "The wall must be between 0.4 and 50 mm."),
    (lambda: ShellSpec(wall_mm=math.nan), "The wall must be between 0.4 and 50 mm."),
    (lambda: ShellSpec.model_validate({"wall_mm": "x"}), "The wall must be a number between 0.4 and 50 mm."),
    (lambda: ShellSpec(left_mm=501), "The reach of the left side must be between -500 and 500 mm."),
    (lambda: ShellSpec(roof_mm=math.inf), "The reach of the roof must be between -500 and 500 mm."),
    (lambda: FitSpec(clearance_mm=-0.1), "The clearance must be between 0 and 20 mm."),
    (lambda: FitSpec(seal_mm=21), "The width of gaps to fill must be between 0 and 20 mm."),
    (lambda: PartingSpec(height_mm=0), "The height of the parting plane must be more than 0 mm."),
    (
        lambda: PartSpec(name="a", mesh_key="k", scale=0),
        "The scale of the part must be more than 0.0001 and less than 10000.",
    ),
    (
        lambda: PartSpec(name="", mesh_key="k"),
        "The name of the part must have between 1 and 80 characters.",
    ),
    (
        lambda: PartSpec.model_validate({"name": "a", "mesh_key": "k", "unit": "mile"}),
        "The unit must be 'mm', 'cm', 'm' or 'inch'.",
    ),
    (
        lambda: PartSpec(name="a", mesh_key="k", placement=(1.0, 2.0)),
        "The placement of the part must have exactly 16 entries.",
    ),
    (
        lambda: PartSpec(name="a", mesh_key="k", placement=(math.nan,) * 16),
        "The placement of the part must be a finite number.",
    ),
    (_whole(shell={"wall_mm": 99}), "The wall must be between 0.4 and 50 mm."),
    (_whole(parts=[]), "The list of parts must have between 1 and 64 entries."),
    (_whole(parts=GOOD["parts"] * 2), "Two parts have the same name; rename one."),
    (_whole(parts=[{"name": "a"}]), "The key of the part's form is missing."),
    (_whole(lid=1), "The entry 'lid' is not known to this version of Housing Desk."),
    (_whole(fit=3), "The fit is not written as it should be."),
    (_whole(parts=3), "The list of parts is not written as it should be."),
    (lambda: Spec.model_validate([]), "The value is not written as it should be."),
    (lambda: Spec.model_validate_json("{"), "The text is not complete JSON."),
]


@pytest.mark.parametrize(("make", "sentence"), CASES, ids=[s for _, s in CASES])
def test_the_sentence_names_the_thing_and_its_limits(make: Callable[[], object], sentence: str) -> None:
    with pytest.raises(ValidationError) as caught:
        make()
    assert sentence_of(caught.value) == sentence
