"""Edits of the outside form, the way in, the printer and its odds; the others are in ``edits``."""

from __future__ import annotations

from typing import Any

from housingdesk.features.forms.registry import form_of
from housingdesk.geometry.types import SIDES, Side
from housingdesk.spec.edits import Edit, changed
from housingdesk.spec.models import HousingSide, Spec
from housingdesk.spec.placing import Meshes


def change_shell(**changes: Any) -> Edit:
    """Change walls, or how far the outside reaches."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, **changes))

    return Edit("Change the shell", change, f"shell {' '.join(changes)}")


def set_extra(side: HousingSide, extra_mm: float) -> Edit:
    """Let one side lie so much further out than room and wall need, and no longer at a fixed place."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, **{f"{side}_mm": None, f"{side}_extra_mm": extra_mm}))

    return Edit(f"{side.capitalize()} side {extra_mm:.4g} mm further out", change, f"extra {side}")


def set_form(kind: str) -> Edit:
    """Give the housing another outside form, keeping the measures that both have."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        made = form_of(kind)
        old = spec.shell.form
        same = {n: v for n, v in dict(old).items() if n in made.model_fields and n != "kind"}
        return changed(spec, shell=changed(spec.shell, form=made.model_validate(same)))

    return Edit(f"Outside {form_of(kind).TITLE.lower()}", change)


def change_form(**changes: Any) -> Edit:
    """Change measures of the outside form."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, form=changed(spec.shell.form, **changes)))

    return Edit("Change the outside", change, f"form {' '.join(changes)}")


def keep_material(side: Side, keep: bool) -> Edit:
    """Keep the material that is in the part's way into a half, or cut it."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        kept = tuple(s for s in SIDES if (keep if s == side else s in spec.fit.keep_material))
        return changed(spec, fit=changed(spec.fit, keep_material=kept))

    return Edit(f"{'Keep the material' if keep else 'Cut a way in'}, {side} half", change)


def change_printer(**changes: Any) -> Edit:
    """Change what is known of the printer."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, printer=changed(spec.printer, **changes))

    return Edit("Change the printer", change, f"printer {' '.join(changes)}")


def set_play(play_mm: float) -> Edit:
    """Let the part move so far in all before it is called a rattle."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, play_mm=play_mm)

    return Edit(f"{play_mm:.4g} mm of play are no rattle", change, "play")
