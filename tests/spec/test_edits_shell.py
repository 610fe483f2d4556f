"""Edits of the outside form."""

from __future__ import annotations

import pytest

from housingdesk.errors import SpecError
from housingdesk.features.forms.block import Block
from housingdesk.features.forms.outline import OutlineForm
from housingdesk.features.forms.round import Round
from housingdesk.features.forms.wrap import Wrap
from housingdesk.spec.edits import changed
from housingdesk.spec.edits_shell import change_form, change_shell, set_extra, set_form, set_play
from housingdesk.spec.models import PartingSpec, PartSpec, ShellSpec, Spec

BLOCK = Block(rim="chamfered", rim_mm=1.4, upright="rounded", upright_mm=5.0)
SPEC = Spec(
    parts=(PartSpec(name="a", mesh_key="k"),),
    parting=PartingSpec(height_mm=5.0),
    shell=ShellSpec(form=BLOCK, left_mm=9.0),
)


def test_another_form_keeps_the_measures_it_shares() -> None:
    outline = set_form("outline").apply(SPEC, {})
    assert outline.shell.form == OutlineForm(rim="chamfered", rim_mm=1.4)
    assert set_form("wrap").apply(outline, {}).shell.form == Wrap()
    assert set_form("block").apply(outline, {}).shell.form == Block(rim="chamfered", rim_mm=1.4)
    with pytest.raises(SpecError, match="no outside form 'ball'"):
        set_form("ball")


def test_measures_of_the_form_and_the_shell_change_within_their_limits() -> None:
    made = change_form(rim_mm=2.0).apply(set_form("round").apply(SPEC, {}), {})
    assert made.shell.form == Round(rim="chamfered", rim_mm=2.0)
    with pytest.raises(SpecError, match="size of the edges of floor and roof must be between"):
        change_form(rim_mm=99.0).apply(made, {})
    thick = change_shell(floor_wall_mm=4.0).apply(SPEC, {}).shell
    assert (thick.wall_at_mm("floor"), thick.wall_at_mm("roof"), thick.least_wall_mm) == (4.0, 2.4, 2.4)
    with pytest.raises(SpecError, match="thickness of the floor must be between"):
        change_shell(floor_wall_mm=0.1).apply(SPEC, {})


def test_more_room_frees_a_fixed_side() -> None:
    made = set_extra("left", 3.0).apply(SPEC, {}).shell
    assert made.extra_mm("left") == 3.0 and made.reach_mm("left") is None


def test_the_play_that_is_no_rattle_is_kept_within_limits() -> None:
    assert set_play(0.4).apply(SPEC, {}) == changed(SPEC, play_mm=0.4)
    with pytest.raises(SpecError, match="play that is no rattle must be between 0 and 20 mm"):
        set_play(-0.1).apply(SPEC, {})
