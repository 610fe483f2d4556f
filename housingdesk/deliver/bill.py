"""The parts list: what has to be bought, as a table that every spreadsheet opens."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from housingdesk.features.records import BillLine

HEADINGS = ("count", "what", "standard", "purpose")


def parts_csv(lines: Iterable[BillLine]) -> str:
    """Return the parts list as comma separated text (RFC 4180), empty where nothing is to be bought."""
    rows = [(line.count, line.what, line.standard, line.purpose) for line in lines if line.count > 0]
    if not rows:
        return ""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    writer.writerows(rows)
    return out.getvalue()
