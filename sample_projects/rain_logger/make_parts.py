"""Make the sample parts and their project: a rain gauge's logger, a circuit board and its cell.

Every dimension is invented.  Run from the project's top folder, the files come out the same byte for byte::

    python -m sample_projects.rain_logger.make_parts [FOLDER]

Each part has its own axes, as two files from two makers would; the project lays them side by side.
Board: +X along its long side, +Y away from the cell, underside of the bare board at z = 0; the cable
socket overhangs the edge at x = 0.  Cell: along +Z, standing on its flat end.
"""

from __future__ import annotations

import sys
from pathlib import Path

from housingdesk.features.ears import Ears
from housingdesk.features.forms.rounded import Rounded
from housingdesk.features.lip import Lip
from housingdesk.features.mark import Mark
from housingdesk.features.notch import Notch
from housingdesk.features.screws import Screws
from housingdesk.features.wireway import Wireway
from housingdesk.files.project import save_project
from housingdesk.files.write import write_stl
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from sample_projects.solids import block, rod, to_mesh

BOARD_MM = (62.4, 33.8, 1.6)
SOCKET_OVERHANG_MM = 4.6
CELL_DIAMETER_MM, CELL_LENGTH_MM = 15.2, 52.6
BUTTON_DIAMETER_MM, BUTTON_HEIGHT_MM = 5.4, 1.1
GAP_MM = 4.7  # between board and cell, filled by a rib of the housing
CLEARANCE_MM, WALL_MM = 0.8, 2.2
ABOUT = "a circuit board and its cell, side by side"


def board() -> Mesh:
    """Return the board with its socket, chips, terminal block, coil and solder joints, mm."""
    long, deep, thick = BOARD_MM
    into = 0.2  # how far each body reaches into the board, so that all are one
    top, bottom = thick - into, into
    solid = block((0, 0, 0), BOARD_MM)
    for x in (3.4, long - 3.4):
        for y in (3.4, deep - 3.4):
            solid -= rod((x, y, -1), "+z", thick + 2, 2.3, 40)
    socket = block((-SOCKET_OVERHANG_MM, 12.1, top), (6.9, 21.3, thick + 5.3))
    solid += socket - block((-SOCKET_OVERHANG_MM - 1, 13.2, thick + 1.4), (0.8, 20.2, thick + 4.0))
    solid += block((22.6, 8.7, top), (32.8, 18.9, thick + 1.3))  # controller
    solid += block((38.5, 20.4, top), (44.7, 25.6, thick + 1.7))  # clock
    solid += block((50.2, 9.6, top), (58.3, 24.8, thick + 8.4))  # terminal block for the gauge's wires
    solid += rod((15.8, 26.1, top), "+z", 4.6 + into, 7.2)  # coil
    solid += rod((36.4, 6.3, top), "+z", 6.1 + into, 5.6)  # capacitor
    for x in (52.4, 56.1):  # joints of the terminal block
        for y in (12.3, 17.2, 22.1):
            solid += rod((x, y, bottom), "-z", 1.9 + into, 1.4, 24)
    return to_mesh(solid)


def cell() -> Mesh:
    """Return the cell with its button, mm."""
    can = rod((0, 0, 0), "+z", CELL_LENGTH_MM - BUTTON_HEIGHT_MM, CELL_DIAMETER_MM, 128)
    return to_mesh(can + rod((0, 0, 1), "+z", CELL_LENGTH_MM - 1, BUTTON_DIAMETER_MM))


def spec(board_mesh: Mesh, cell_mesh: Mesh) -> Spec:
    """Return the housing: parted through the middle of the board and the axis of the cell."""
    radius = CELL_DIAMETER_MM / 2
    middle = BOARD_MM[2] / 2
    # The cell is laid along the board: its +Z turns to +X, +X to -Z, +Y stays.
    laid = (
        *(0.0, 0.0, 1.0, round((BOARD_MM[0] - CELL_LENGTH_MM) / 2, 3)),
        *(0.0, 1.0, 0.0, round(-GAP_MM - radius, 3)),
        *(-1.0, 0.0, 0.0, middle),
        *(0.0, 0.0, 0.0, 1.0),
    )
    parts = (
        PartSpec(
            name="Logger board",
            mesh_key=board_mesh.key,
            source_name="logger_board.stl",
            unit="mm",
            unit_origin="given",
        ),
        PartSpec(
            name="Cell",
            mesh_key=cell_mesh.key,
            source_name="cell.stl",
            unit="mm",
            unit_origin="given",
            placement=laid,
        ),
    )
    # The left side lies a clearance and a wall before the board, so the socket's mouth sticks out.
    left_mm = CLEARANCE_MM + WALL_MM - SOCKET_OVERHANG_MM
    return Spec(
        name="Rain logger",
        parts=parts,
        parting=PartingSpec(pull="+z", height_mm=round(radius, 3)),
        fit=FitSpec(clearance_mm=CLEARANCE_MM),
        shell=ShellSpec(
            wall_mm=WALL_MM,
            left_mm=round(left_mm, 3),
            form=Rounded(corner_mm=5.2, rim="chamfered", rim_mm=0.9),
        ),
        features=(
            Screws(name="Lid screws", size="M2.5", count=4, holds="printed threads"),
            Lip(name="Lip"),
            Wireway(name="Gauge wires", side="right", wire_mm=3.4, relief="labyrinth"),
            Ears(name="Ears", sides="front and back", size="M4"),
            Notch(name="Pry notch"),
            Mark(name="Label", says="own words", text="Rain", face="roof", height_mm=7.0),
        ),
    )


def main(folder: Path) -> None:
    """Write the parts and their project into a folder."""
    board_mesh, cell_mesh = board(), cell()
    folder.mkdir(parents=True, exist_ok=True)
    write_stl(folder / "logger_board.stl", board_mesh, "logger board")
    write_stl(folder / "cell.stl", cell_mesh, "cell")
    (folder / "about.txt").write_bytes(f"{ABOUT}\n".encode())
    save_project(folder, spec(board_mesh, cell_mesh), {m.key: m for m in (board_mesh, cell_mesh)})


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
