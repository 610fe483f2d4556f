"""Make the sample part and its project: a right-angle gear motor that swings a greenhouse vent flap.

Every dimension is invented.  Run from the project's top folder, the files come out the same byte for byte::

    python -m sample_projects.vent_drive.make_part [FOLDER]

Axes: the motor can lies along +X, the output shaft leaves along -Y, both in the plane z = 0.
"""

from __future__ import annotations

import sys
from pathlib import Path

import manifold3d as m3

from housingdesk.build.turning import propose_zones
from housingdesk.features.feet import Feet
from housingdesk.features.forms.outline import OutlineForm
from housingdesk.features.lip import Lip
from housingdesk.features.mark import Mark
from housingdesk.features.ribs import Ribs
from housingdesk.features.screws import Screws
from housingdesk.features.wireway import Wireway
from housingdesk.files.project import save_project
from housingdesk.files.write import write_stl
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from sample_projects.solids import block, chamfered_block, rod, to_mesh

BOX_MM = (33.6, 26.8, 24.4)  # gearbox: along the can, along the shaft, high
CHAMFER_MM = 1.4
CAN_DIAMETER_MM, CAN_LENGTH_MM = 21.6, 35.8
SHAFT_DIAMETER_MM, SHAFT_LENGTH_MM = 5.8, 18.4  # length from the face of the gearbox
SHAFT_AXIS_X_MM = 11.7
COLLAR_DIAMETER_MM, COLLAR_LENGTH_MM = 10.6, 1.8
FLAT_DEPTH_MM, FLAT_LENGTH_MM = 0.7, 11.2
TAB_MM = (8.3, 7.4, 2.6)
TAB_HOLE_MM = 2.9
CLEARANCE_MM, WALL_MM = 1.0, 2.4
ABOUT = "a gear motor whose shaft leaves sideways"


def gearbox() -> m3.Manifold:
    """Return the gearbox with its lid screws, the collar of the shaft and the two mounting tabs."""
    long, deep, high = BOX_MM
    solid = chamfered_block((0, 0, -high / 2), (long, deep, high / 2), CHAMFER_MM)
    for x in (4.1, long - 4.1):
        for y in (4.3, deep - 4.3):
            solid += rod((x, y, high / 2 - 0.5), "+z", 1.7, 4.6, 40)
    solid += rod((SHAFT_AXIS_X_MM, 0.5, 0), "-y", COLLAR_LENGTH_MM + 0.5, COLLAR_DIAMETER_MM)
    along, wide, thick = TAB_MM
    for y in (2.2, deep - 2.2 - wide):
        tab = block((-along, y, -thick / 2), (2.0, y + wide, thick / 2))
        solid += tab - rod((-along + 3.5, y + wide / 2, -thick), "+z", 2 * thick, TAB_HOLE_MM, 40)
    return solid


def motor() -> m3.Manifold:
    """Return the motor can with its rear bearing and the two terminals."""
    start, middle = BOX_MM[0], BOX_MM[1] / 2
    end = start + CAN_LENGTH_MM
    solid = rod((start - 1.0, middle, 0), "+x", CAN_LENGTH_MM + 1.0, CAN_DIAMETER_MM, 128)
    solid += rod((end - 0.5, middle, 0), "+x", 2.7, 7.8)
    for y in (middle - 7.1, middle + 7.1):
        solid += block((end - 0.5, y - 0.25, -1.3), (end + 4.2, y + 0.25, 1.3))
    return solid


def shaft() -> m3.Manifold:
    """Return the output shaft with its flat."""
    bar = rod((SHAFT_AXIS_X_MM, 1.0, 0), "-y", SHAFT_LENGTH_MM + 1.0, SHAFT_DIAMETER_MM)
    radius, end = SHAFT_DIAMETER_MM / 2, -SHAFT_LENGTH_MM
    left, right = SHAFT_AXIS_X_MM - SHAFT_DIAMETER_MM, SHAFT_AXIS_X_MM + SHAFT_DIAMETER_MM
    return bar - block((left, end - 1, radius - FLAT_DEPTH_MM), (right, end + FLAT_LENGTH_MM, radius + 1))


def part() -> Mesh:
    """Return the whole gear motor as one closed body, mm."""
    return to_mesh(gearbox() + motor() + shaft())


def spec(mesh: Mesh) -> Spec:
    """Return the housing: parted in the plane of both axes, the shaft leaving through the front.

    An outline with broken edges, four screws into inserts, a lip, a held motor lead, ribs against rattling,
    recesses for stick-on pads, and a label.
    """
    motor_part = PartSpec(
        name="Gear motor", mesh_key=mesh.key, source_name="vent_drive.stl", unit="mm", unit_origin="given"
    )
    zones = propose_zones(motor_part.name, find_patches(mesh), mesh.vertices[mesh.faces])
    return Spec(
        name="Vent drive",
        parts=(motor_part,),
        parting=PartingSpec(pull="+z", height_mm=round(-float(mesh.bounds[0, 2]), 3)),
        fit=FitSpec(clearance_mm=CLEARANCE_MM, zones=zones),
        shell=ShellSpec(wall_mm=WALL_MM, form=OutlineForm(rim="chamfered", rim_mm=1.2)),
        features=(
            Screws(name="Lid screws", size="M3", count=4, holds="heat-set inserts"),
            Lip(name="Lip"),
            Wireway(name="Motor lead", side="right", wire_mm=4.4, relief="clamp"),
            Ribs(name="Ribs"),
            Feet(name="Pads", diameter_mm=7.8, height_mm=0.9),
            Mark(name="Label", says="own words", text="Vent 3", face="roof", height_mm=7.5),
        ),
    )


def main(folder: Path) -> None:
    """Write the part and its project into a folder."""
    mesh = part()
    folder.mkdir(parents=True, exist_ok=True)
    write_stl(folder / "vent_drive.stl", mesh, "gear motor")
    (folder / "about.txt").write_bytes(f"{ABOUT}\n".encode())
    save_project(folder, spec(mesh), {mesh.key: mesh})


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
