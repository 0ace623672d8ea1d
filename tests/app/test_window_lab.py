"""Screenshots of every leaf of the Lab in both themes, and what a machine can check of them."""

from __future__ import annotations

import pytest

from .test_window_pictures import SIZES, THEMES, clipped, folder, take

__all__ = ["folder"]

LEAVES = ("guide", "compose", "gallery", "tasks", "rotor")


@pytest.mark.parametrize("size", SIZES)
def test_every_leaf_in_both_themes(qtbot, window, page, folder, size):
    window.resize(*size)
    for leaf in LEAVES:
        page.show_leaf(leaf)
        qtbot.waitUntil(page.is_ready, timeout=10_000)
        if leaf == "rotor":
            qtbot.waitUntil(lambda: page.leaf("rotor").lab.answer.complete, timeout=20_000)
        if leaf == "gallery":
            page.leaf("gallery").choose("banana")
        for theme in THEMES:
            window.session.theme.set(theme)
            qtbot.waitUntil(lambda: window.is_painted() and page.is_ready(), timeout=10_000)
            take(qtbot, window, folder, f"lab-{leaf}-{size[0]}-{theme}")
        assert not clipped(window)
        assert all(not plot.is_empty() for plot in page.plots())
