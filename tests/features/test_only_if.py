"""Fields that do not always matter say so, and then really change nothing."""

from __future__ import annotations

from itertools import product
from typing import Any, Literal, get_args

import pytest
from pydantic import ValidationError

from housingdesk.features import registry
from housingdesk.features.ears import Ears
from housingdesk.features.feature import Feature
from housingdesk.features.feet import Feet
from housingdesk.features.forms import registry as forms
from housingdesk.features.screws import Screws
from housingdesk.features.vents import Vents
from housingdesk.features.window import Window
from housingdesk.model import Model
from tests.features.sites import block_site, halves_with

KINDS: list[type[Model]] = [*registry.kinds().values(), *forms.kinds().values()]


def test_the_edges_size_has_no_effect_while_they_are_sharp() -> None:
    block = forms.kinds()["block"]
    assert block(kind="block", rim="sharp", upright="rounded").bars("rim_mm") == "rim"
    assert block(kind="block", rim="sharp", upright="rounded").bars("upright_mm") is None
    assert block(kind="block", rim="rounded", upright="sharp").bars("rim_mm") is None
    assert block(kind="block", rim="rounded", upright="sharp").bars("upright_mm") == "upright"


@pytest.mark.parametrize("kind", [k for k in KINDS if k.ONLY_IF], ids=lambda k: k.__name__)
def test_rules_name_fields_and_values_there_are(kind: type[Model]) -> None:
    for name, rules in kind.ONLY_IF.items():
        assert name in kind.model_fields
        for other, wanted in rules.items():
            annotation = kind.model_fields[other].annotation
            if getattr(annotation, "__origin__", None) is Literal:
                assert set(wanted) < set(get_args(annotation))  # all of them would be no rule
            else:
                assert annotation is int
                assert kind.model_validate({other: max(wanted)}) is not None
                with pytest.raises(ValidationError):  # more of them there cannot be
                    kind.model_validate({other: max(wanted) + 1})


@pytest.mark.parametrize(
    ("feature", "name", "values"),
    [
        (Ears(hole="round"), "slot_mm", (2.0, 9.0)),
        (Ears(count=1), "span_mm", (None, 20.0)),
        (Screws(head="countersunk", size="M2", count=2), "seat", ("sunk", "proud")),
        (Vents(pattern="round holes", side="roof"), "slot_mm", (5.0, 12.0)),
        (Window(side="front", fit="hand", width_mm=6.0, tall_mm=3.0), "margin_mm", (0.0, 2.0)),
        (Window(side="front", fit="hand", shape="circle", width_mm=6.0), "tall_mm", (3.0, 6.0)),
        (Feet(style="standing feet", height_mm=3.0), "thickness_mm", (None, 6.0)),
        (Feet(style="standing feet", height_mm=3.0), "room_mm", (0.0, 1.0)),
    ],
    ids=lambda v: v.kind if isinstance(v, Feature) else None,
)
def test_a_field_that_is_barred_changes_nothing(feature: Feature, name: str, values: tuple[Any, ...]) -> None:
    assert feature.bars(name) is not None
    site = block_site(room_mm=6.0)
    made = [halves_with(site, feature.model_copy(update={"name": "It", name: value})) for value in values]
    bare = halves_with(site)
    assert any(abs(made[0][s].volume_mm3 - bare[s].volume_mm3) > 0.1 for s in made[0])  # it is there
    for one, side in product(made[1:], made[0]):
        assert one[side].volume_mm3 == pytest.approx(made[0][side].volume_mm3, abs=1e-6)
