"""The user's printer, as it was last described in any housing; new housings begin with it."""

from __future__ import annotations

import contextlib
from pathlib import Path

from pydantic import ValidationError

from housingdesk.errors import FileError
from housingdesk.files.atomic import file_errors, replacing
from housingdesk.spec.models import PrinterSpec


class OwnPrinter:
    """One file of the user's data folder.

    It is read anew each time, so that two windows agree.  A missing or broken file is the usual printer, and
    one that cannot be written is left: every project keeps its own copy.
    """

    def __init__(self, folder: Path) -> None:
        self._file = folder / "printer.json"

    def read(self) -> PrinterSpec:
        """Return what is known of the user's printer."""
        try:
            return PrinterSpec.model_validate_json(self._file.read_bytes())
        except (OSError, ValidationError):
            return PrinterSpec()

    def write(self, printer: PrinterSpec) -> None:
        """Keep it for housings to come."""
        with contextlib.suppress(FileError):
            with file_errors("write to", self._file.parent):
                self._file.parent.mkdir(parents=True, exist_ok=True)
            with replacing(self._file) as stream:
                stream.write(printer.model_dump_json(indent=2).encode())
