"""The command line: ``make``, ``prove`` and ``measure``.  Neither Qt nor VTK is loaded."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from housingdesk import __version__
from housingdesk.deliver.typed import length
from housingdesk.errors import HousingError

if TYPE_CHECKING:
    from housingdesk.build.results import BuildResult

MADE, PROOF_FAILS, NOT_MADE = 0, 1, 2
COMMANDS = ("make", "prove", "measure")
_SIGN = {"pass": "ok     ", "caution": "CAUTION", "fail": "FAIL   "}


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaint is one sentence and whose exit code is 2."""

    def error(self, message: str) -> None:  # type: ignore[override]  # raises instead of exiting
        raise HousingError(
            f"{message[:1].upper()}{message[1:]}; see 'housingdesk {self.prog.split()[-1]} --help'."
        )


def _parser() -> _Parser:
    top = _Parser(
        prog="housingdesk",
        description="Two printed halves that close around a bought part. Without a command the window opens.",
    )
    top.add_argument("--version", action="version", version=f"housingdesk {__version__}")
    commands = top.add_subparsers(dest="command", required=True)
    make = commands.add_parser("make", help="make the two halves of a part or project, and prove them")
    make.add_argument("source", type=Path, metavar="PART_OR_PROJECT")
    make.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for what is written")
    make.add_argument("--unit", choices=("mm", "cm", "m", "inch"), help="what one unit in the part's file is")
    make.add_argument("--clearance", type=length, metavar="MM", help="gap between part and housing, a side")
    make.add_argument("--wall", type=length, metavar="MM", help="least material between cavity and outside")
    make.add_argument(
        "--parting",
        default=None,
        metavar="auto|MM",
        help="height of the parting plane along the pull, in the part's own coordinates; "
        "without --pull that is along z",
    )
    make.add_argument(
        "--pull",
        choices=("auto", "x", "y", "z"),
        default=None,
        help="way the upper half lifts off; auto looks for it",
    )
    make.add_argument(
        "--zone",
        action="append",
        default=[],
        metavar="NAME=MM",
        help="gap around one zone, a side; may be given for each",
    )
    make.add_argument(
        "--screws",
        metavar="SIZExCOUNT[xLENGTH][:HOLD]",
        help="close it with screws: M3x4 is four M3; hold is fit (whatever fits), pilot, insert, nut, "
        "slide or through",
    )
    make.add_argument("--lip", action="store_true", help="lip and groove along the parting edge")
    make.add_argument("--pose", choices=("print", "assembled"), default="print", help="how the halves lie")
    prove = commands.add_parser("prove", help="print the proof sheet of a project or part")
    prove.add_argument("source", type=Path, metavar="PROJECT")
    measure = commands.add_parser(
        "measure", help="list the flats and rounds of a part, like caliper readings"
    )
    measure.add_argument("source", type=Path, metavar="PART")
    measure.add_argument("--unit", choices=("mm", "cm", "m", "inch"))
    measure.add_argument("--all", action="store_true", help="list all of them, not only the largest")
    measure.add_argument("--json", action="store_true", help="print all figures, for programs")
    return top


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def refuse(sentence: str) -> int:
    """Say why nothing is made; return the exit code."""
    _say(f"housingdesk: {sentence}")
    return NOT_MADE


def main(argv: Sequence[str] | None = None) -> int:
    """Run the program; return the exit code."""
    args = list(sys.argv[1:] if argv is None else argv)
    keep_compiled_code()
    try:
        options = _parser().parse_args(args)
        if options.command == "measure":
            return _measure(options)
        return _prove(options) if options.command == "prove" else _make(options)
    except HousingError as error:
        return refuse(str(error))
    except MemoryError:
        return refuse("Too little memory for this part; ask for more clearance or take a coarser file.")
    except BrokenPipeError:
        # The reader of our output went away; nothing is left to tell it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOT_MADE


def keep_compiled_code() -> None:
    """Keep compiled kernels in the user's cache folder, and say so when they are not there yet."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return
    from housingdesk.files.places import compiled_dir, forget_older_kernels

    os.environ["NUMBA_CACHE_DIR"] = str(compiled_dir())
    forget_older_kernels()


def _announce_first_run() -> None:
    folder = Path(os.environ["NUMBA_CACHE_DIR"])
    if not any(folder.glob("**/*.nbi")):
        _say("Preparing the engine; this happens once and takes about a minute.")


def _measure(options: argparse.Namespace) -> int:
    from housingdesk.deliver.caliper import measure_report, measure_table
    from housingdesk.deliver.make import part_words
    from housingdesk.files.meshes import read_part
    from housingdesk.geometry.types import Mesh
    from housingdesk.spec.models import UNIT_MM

    _announce_first_run()
    part = read_part(options.source, options.unit)
    mesh = Mesh(part.mesh.vertices * UNIT_MM[part.unit], part.mesh.faces)
    report = measure_report(mesh)
    if options.json:
        print(json.dumps(report, indent=1))
    else:
        print(f"{part_words(part)}\n\n{measure_table(report, whole=options.all)}")
    return MADE


def _prove(options: argparse.Namespace) -> int:
    from housingdesk.deliver.make import open_housing, prove_housing

    _announce_first_run()
    housing = open_housing(options.source)
    return _print_proof(prove_housing(housing))


def _make(options: argparse.Namespace) -> int:
    from housingdesk.deliver.make import Wishes, open_housing, prove_housing, write_housing

    _announce_first_run()
    housing = open_housing(
        options.source,
        Wishes(
            options.unit,
            options.clearance,
            options.wall,
            options.pull,
            options.parting,
            tuple(options.zone),
            options.screws,
            options.lip,
        ),
    )
    for line in housing.notes:
        print(line)
    result = prove_housing(housing)
    files = write_housing(housing, result, options.out, options.pose)
    code = _print_proof(result)
    print(f"Written to {options.out}: {', '.join(f.name for f in files)}")
    return code


def _print_proof(result: BuildResult) -> int:
    print("Proof, measured on the finished halves:")
    for finding in result.findings:
        print(f"  {_SIGN[finding.severity]} {finding.message}")
        if finding.severity != "pass" and finding.remedy:
            print(f"          {finding.remedy}")
    print(
        "Before you use it: a turning shaft can catch, motors and cells get hot, mains and lithium cells "
        "need a qualified hand; local codes come first."
    )
    return PROOF_FAILS if any(f.severity == "fail" for f in result.findings) else MADE
