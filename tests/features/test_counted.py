"""A number and its noun agree."""

from __future__ import annotations

from housingdesk.features.hooks import Hooks
from housingdesk.finding import counted
from tests.features.sites import block_site


def test_one_is_singular_and_all_else_plural() -> None:
    assert [counted(n, "hook") for n in (0, 1, 2)] == ["0 hooks", "1 hook", "2 hooks"]
    assert counted(1, "rib presses", "ribs press") == "1 rib presses"
    assert counted(3, "rib presses", "ribs press") == "3 ribs press"


def test_a_single_hook_bends() -> None:
    said = [f.message for f in Hooks(name="H", count=1).build(block_site(room_mm=6.0)).findings]
    assert any(m.startswith("1 hook bends by") for m in said), said
