"""Edits of the outside form."""

from __future__ import annotations

import pytest

from housingdesk.errors import SpecError
from housingdesk.features.forms.block import Block
from housingdesk.features.forms.outline import OutlineForm
from housingdesk.features.forms.round import Round
from housingdesk.features.forms.wrap import Wrap
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from housingdesk.spec.shell_edits import as_form_of, set_form, set_shell

SPEC = Spec(parts=(PartSpec(name="a", mesh_key="k"),), parting=PartingSpec(height_mm=5.0))


def test_another_form_keeps_the_measures_it_shares() -> None:
    block = Block(rim="chamfered", rim_mm=1.4, upright="rounded", upright_mm=5.0)
    outline = as_form_of(OutlineForm, block)
    assert outline == OutlineForm(rim="chamfered", rim_mm=1.4)
    assert as_form_of(Wrap, outline) == Wrap()
    assert as_form_of(Block, outline) == Block(rim="chamfered", rim_mm=1.4)


def test_a_form_is_set_and_its_changes_are_one_drag() -> None:
    edit = set_form(Round(rim="chamfered", rim_mm=2.0))
    made = edit.apply(SPEC, {})
    assert made.shell.form == Round(rim="chamfered", rim_mm=2.0)
    assert edit.label == "Outside form: round"
    assert edit.merge == set_form(Round()).merge != set_form(Wrap()).merge


def test_lengths_of_the_shell_are_set_by_name() -> None:
    made = set_shell("floor_wall_mm", 4.0).apply(SPEC, {})
    assert made.shell.wall_at_mm("floor") == 4.0 and made.shell.wall_at_mm("roof") == 2.4
    assert set_shell("floor_wall_mm", None).apply(made, {}).shell == SPEC.shell
    assert set_shell("left_extra_mm", 3.0).apply(SPEC, {}).shell.extra_mm("left") == 3.0
    assert set_shell("floor_wall_mm", 4.0).label == "Thickness of the floor: 4 mm"
    with pytest.raises(SpecError, match="thickness of the floor must be between"):
        set_shell("floor_wall_mm", 0.1).apply(SPEC, {})
    with pytest.raises(SpecError, match="no length 'form'"):
        set_shell("form", 1.0)
