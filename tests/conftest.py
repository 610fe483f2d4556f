"""What every test gets: its own user folders, the shared parts, and a check that it leaves nothing behind."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest
from hypothesis import HealthCheck, settings

from housingdesk.files.places import compiled_dir

ROOT = Path(__file__).resolve().parents[1]
IN_CI = os.environ.get("CI", "").lower() not in {"", "0", "false"}

# Compiled code stays where the program keeps it, or every run of the tests would compile for a minute.
os.environ.setdefault("NUMBA_CACHE_DIR", str(compiled_dir()))
# Apart from that no test may touch the user's own data, drafts or cache.
_user_folders = Path(tempfile.mkdtemp(prefix="housingdesk-tests-"))
os.environ["HOUSINGDESK_DATA"] = str(_user_folders / "data")
os.environ["HOUSINGDESK_CACHE"] = str(_user_folders / "cache")

# No deadline: a first call may compile for seconds, and no test here is about time.
settings.register_profile("desk", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("desk"), derandomize=True, print_blob=True)
settings.load_profile("ci" if IN_CI else "desk")


def pytest_unconfigure() -> None:
    shutil.rmtree(_user_folders, ignore_errors=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Pure tests first, so that a wrong number is seen before a window opens."""
    items.sort(key=lambda item: item.get_closest_marker("window") is not None)


# --- the shared parts -----------------------------------------------------------------------------


def _shared(name: str) -> Path:
    """Return a folder of ../shared; the test is skipped where a clone has none beside it."""
    folder = (ROOT / ".." / "shared" / name).resolve()
    if not folder.is_dir():
        pytest.skip(f"no ../shared/{name} beside the project")
    return folder


@pytest.fixture(scope="session")
def shared_parts() -> Path:
    """Folder of the real meshes."""
    return _shared("parts")


@pytest.fixture(scope="session")
def shared_judge() -> Path:
    """The independent judge of two halves."""
    return _shared("accept") / "verify_halves.py"


# --- windows need a screen --------------------------------------------------------------------------


def _screen_missing() -> str:
    """Say why no window can be shown, or nothing."""
    if os.environ.get("QT_QPA_PLATFORM") in {"offscreen", "minimal"}:
        return "the 3D view needs a real screen, and QT_QPA_PLATFORM names none (Xvfb serves)"
    if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
        return "no DISPLAY; start the tests with bash tests/run.sh, which brings Xvfb"
    return ""


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("window") and (reason := _screen_missing()):
        if IN_CI:
            pytest.fail(reason, pytrace=False)
        pytest.skip(reason)


# --- nothing may be left behind ---------------------------------------------------------------------

# Python's own helper, one per process and kept until it ends.
_KEPT_CHILDREN = ("multiprocessing.resource_tracker", "multiprocessing.forkserver")
_PATIENCE_S = 5.0  # a killed worker needs some milliseconds, more on a busy machine


def _children() -> dict[int, str]:
    """Living child processes: id to command line."""
    found = {}
    for child in psutil.Process().children(recursive=False):
        try:
            command = " ".join(child.cmdline())
            if child.status() != psutil.STATUS_ZOMBIE and not any(k in command for k in _KEPT_CHILDREN):
                found[child.pid] = command
        except psutil.NoSuchProcess:
            continue
    return found


def _threads() -> dict[int, str]:
    """Living Python threads: id to name."""
    return {t.ident or 0: t.name for t in threading.enumerate() if t.is_alive()}


def _left(look: Callable[[], dict[int, str]], before: dict[int, str]) -> dict[int, str]:
    """What ``look`` still finds that was not there before, once it has had time to end."""
    patience = time.monotonic() + _PATIENCE_S
    while left := {k: v for k, v in look().items() if k not in before}:
        if time.monotonic() > patience:
            break
        time.sleep(0.02)
    return left


@pytest.fixture(autouse=True)
def _no_process_or_thread_left() -> Iterator[None]:
    children, threads = _children(), _threads()
    yield
    if left := _left(_children, children):
        pytest.fail(f"the test left child processes: {left}")
    if left := _left(_threads, threads):
        pytest.fail(f"the test left threads: {left}")


@pytest.fixture(autouse=True)
def _no_window_left(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail a test that leaves a top-level widget, and name who still holds it, or a stale wrapper.

    Nothing tells Python when Qt deletes a surface or a layout item, which are no QObjects.  A wrapper kept
    longer is taken for the next object at that address, and the interpreter crashes tests later.
    """
    if not {"qtbot", "qapp"} & set(request.fixturenames) and not request.node.get_closest_marker("window"):
        yield
        return
    import shiboken6
    from PySide6.QtCore import QCoreApplication, QEvent, QObject
    from PySide6.QtGui import QSurface
    from PySide6.QtWidgets import QApplication, QLayoutItem

    before = {id(w) for w in QApplication.topLevelWidgets()}
    yield
    for _ in range(3):  # a deletion may post further deletions
        QCoreApplication.processEvents()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect()
    left = [w for w in QApplication.topLevelWidgets() if id(w) not in before]
    if left:
        lines = []
        for widget in left:
            holders = [type(r).__name__ for r in gc.get_referrers(widget) if r is not left]
            lines.append(f"{widget!r} named {widget.objectName()!r}, held by {holders}")
            widget.close()
            widget.deleteLater()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        pytest.fail("the test left windows:\n" + "\n".join(lines))
    stale = [
        w
        for w in shiboken6.getAllValidWrappers()
        if isinstance(w, QSurface | QLayoutItem)
        and not isinstance(w, QObject)
        and not shiboken6.ownedByPython(w)
    ]
    if stale:
        pytest.fail(f"the test left wrappers that Qt may delete unasked: {stale}")
