"""What a user can do to the shell beyond its wall and fixed sides: another form, other measures."""

from __future__ import annotations

from housingdesk.errors import SpecError
from housingdesk.features.forms.form import Form
from housingdesk.spec.edits import Edit, changed
from housingdesk.spec.limits import words_of
from housingdesk.spec.models import ShellSpec, Spec
from housingdesk.spec.placing import Meshes


def set_form(form: Form) -> Edit:
    """Give the housing an outside form with its measures."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, form=form))

    return Edit(f"Outside form: {form.TITLE.lower()}", change, f"form {form.kind}")


def as_form_of(kind: type[Form], former: Form) -> Form:
    """Return another kind of form that keeps the measures it shares with the former one."""
    kept = {n: v for n, v in former.model_dump().items() if n in kind.model_fields and n != "kind"}
    return kind(**kept)


def set_shell(field: str, value_mm: float | None) -> Edit:
    """Set one length of the shell by its field name: floor, roof, extra room, a fixed side.

    Raises
    ------
    SpecError : when made, for a name that is no length of the shell; when applied, for a value off limits.
    """
    if field not in ShellSpec.model_fields or not field.endswith("_mm"):
        raise SpecError(f"The shell has no length '{field}'.")
    name = words_of(field, ShellSpec.model_fields[field])

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, **{field: value_mm}))

    said = "as needed" if value_mm is None else f"{value_mm:.4g} mm"
    return Edit(f"{name[:1].upper()}{name[1:]}: {said}", change, f"shell {field}")
