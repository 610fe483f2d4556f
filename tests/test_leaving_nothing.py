"""The leak check of conftest.py must be able to fail, or it checks nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.conftest import ROOT

LEAKS = {
    "child processes": """
        import subprocess, sys
        def test_it():
            subprocess.Popen([sys.executable, "-c", "import time; time.sleep(12)"])
    """,
    "threads": """
        import threading, time
        def test_it():
            threading.Thread(target=time.sleep, args=(8,), daemon=True).start()
    """,
    "windows": """
        kept = []
        def test_it(qapp):
            from PySide6.QtWidgets import QWidget
            kept.append(QWidget(objectName="forgotten"))
    """,
}
CLEAN = """
    import subprocess, sys, threading
    def test_it(qtbot):
        from PySide6.QtWidgets import QWidget
        subprocess.run([sys.executable, "-c", ""], check=True)
        thread = threading.Thread(target=print); thread.start(); thread.join()
        qtbot.addWidget(QWidget())
"""


def run(tmp_path: Path, source: str) -> subprocess.CompletedProcess[str]:
    file = tmp_path / "test_inner.py"
    file.write_text(textwrap.dedent(source))
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.conftest", "-p", "no:cacheprovider"]
    return subprocess.run(
        [*command, "--rootdir", str(tmp_path), str(file)],
        cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.mark.parametrize("what", LEAKS)
def test_a_leak_fails_the_test_that_left_it(tmp_path, what):
    done = run(tmp_path, LEAKS[what])
    assert done.returncode == 1, done.stdout + done.stderr
    assert f"the test left {what}" in done.stdout


def test_a_clean_test_passes(tmp_path):
    done = run(tmp_path, CLEAN)
    assert done.returncode == 0, done.stdout + done.stderr
