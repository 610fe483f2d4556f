"""What a plain ``pip install .`` puts on a machine is enough, from any folder."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.conftest import ROOT

DATA = ("resources", "sample_projects")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the unpacked wheel, as pip would lay it out."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8")
    assert done.returncode == 0, done.stderr
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def kept(folder: Path) -> dict[str, bytes]:
    """Files under a folder, without compiled leftovers."""
    found = (p for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


def asked(installed: Path, elsewhere: Path, code: str) -> list[str]:
    """Run code against the unpacked wheel from another folder and return the lines it prints."""
    # -P: neither the current folder nor the source tree may help.
    command = [sys.executable, "-P", "-c", f"import sys; sys.path.insert(0, {str(installed)!r})\n{code}"]
    return subprocess.run(
        command, cwd=elsewhere, capture_output=True, text=True, encoding="utf-8", check=True
    ).stdout.splitlines()


@pytest.mark.parametrize("name", DATA)
def test_the_wheel_carries_samples_and_resources_whole(installed, name):
    there = kept(installed / "housingdesk" / "_data" / name)
    assert there == kept(ROOT / name)
    assert there


def test_the_wheel_carries_no_leftovers_and_nothing_beside_the_package(installed):
    assert {p.name.split("-")[0] for p in installed.iterdir()} == {"housingdesk"}
    assert not [p for p in installed.rglob("*") if p.suffix in {".pyc", ".nbi", ".nbc"}]


def test_samples_and_resources_are_found_from_any_folder(installed, tmp_path):
    lines = asked(
        installed,
        tmp_path,
        "from housingdesk.files import places; print(places.samples_dir()); print(places.resources_dir())",
    )
    data = installed / "housingdesk" / "_data"
    assert [Path(line) for line in lines] == [data / "sample_projects", data / "resources"]


def test_an_installed_sample_opens(installed, tmp_path):
    lines = asked(
        installed,
        tmp_path,
        "from housingdesk.files import places, project\n"
        "for name in ('rain_logger', 'vent_drive'):\n"
        "    spec, meshes = project.load_project(places.samples_dir() / name); print(spec.name, len(meshes))",
    )
    assert lines == ["Rain logger 2", "Vent drive 1"]
