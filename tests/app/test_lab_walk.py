"""A newcomer's walk: from the start panel to forward, backward, 1X and phase lag, then two tasks.

What is answered in the tasks is read off the pictures, as a reader would, and never asked of the
state behind them.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from app.widgets.lab_guide_steps import STEPS

from .lab_reader import drawn, type_into
from .plot_contract import words_of

WORDS = ("Forward", "Backward", "1X", "Phase lag")


@pytest.fixture
def guided(qtbot, page):
    """The four steps done, one after the other."""
    guide = page.leaf("guide")
    deeds = (
        lambda: guide.rotation.button("cw").click(),
        lambda: type_into(qtbot, guide.slider("1X.backward_um_pp"), "80"),
        lambda: type_into(qtbot, guide.slider("0.5X.forward_um_pp"), "40"),
        lambda: type_into(qtbot, guide.slider("1X.forward_at_deg"), "-45"),
    )
    for deed in deeds:
        drawn(qtbot, page)
        deed()
        qtbot.waitUntil(guide.is_done, timeout=2_000)
        if guide.step is not STEPS[-1]:
            guide.next.click()
    drawn(qtbot, page)
    return guide


def test_the_four_words_are_known_at_the_end(guided):
    known = guided.known.text().splitlines()
    assert [line.partition(":")[0] for line in known[1:]] == list(WORDS)
    assert all(len(line.partition(":")[2]) > 20 for line in known[1:])


def test_every_control_of_the_guide_has_a_name_that_can_be_told(qtbot, page):
    guide = page.leaf("guide")
    for place, step in enumerate(STEPS):
        guide.show_step(place)
        drawn(qtbot, page)
        shown = [guide.slider(field.key) for field in step.fields]
        names = [slider.label.text() for slider in shown]
        assert len(set(names)) == len(names)
        for field, slider in zip(step.fields, shown, strict=True):
            assert slider.isVisible()
            order = field.key.rpartition(".")[0]
            assert slider.field.accessibleName().startswith(order)
            if order != "1X":
                assert slider.label.text().startswith(order)


def test_every_mark_in_the_pictures_is_named_in_them(qtbot, page):
    page.leaf("guide").show_step(1)
    drawn(qtbot, page)
    bench = page.bench
    for plot, marks in (
        (bench.shaft, ("REF", "notch", "high spot", "LAB-X", "LAB-Y", "since the event")),
        (bench.orbit, ("event", "now", "LAB-X", "LAB-Y", "rotation ccw")),
        (bench.circles, ("F forward", "B backward", "event")),
        (bench.lags, ("LAB-X", "LAB-Y", "event")),
        (bench.spectrum, ("← backward", "forward →")),
    ):
        words = " | ".join(words_of(plot))
        assert all(mark in words for mark in marks), (plot.NAME, words)
    # Which way each arrow turns can be seen while it stands, too.
    ways = [word for word in words_of(bench.circles) if "ward" in word]
    assert [word[0] for word in ways] == ["↺", "↻"]


def test_what_was_learnt_is_enough_for_the_first_tasks(qtbot, page, guided):
    guided.next.click()
    assert page.leaves.leaf == "gallery"
    page.show_leaf("tasks")
    tasks = page.leaf("tasks")
    drawn(qtbot, page)
    # From the event to the highest place of LAB-X's dotted 1X part, as a share of a turn.
    turns, height = page.bench.lags._once[0].getData()
    first = turns < 1.0
    lag = 360.0 * float(turns[first][np.argmax(height[first])])
    tasks.field("lag_deg").setText(f"{lag:.0f}")
    tasks.check_button.click()
    assert tasks.verdict.text().startswith("✓"), tasks.verdict.text()

    tasks.kinds.chosen.emit("precession")
    drawn(qtbot, page)
    # The higher one of the two lines that the spectrum names.
    found = (re.match(r"(−?)1X · ([\d.]+)", word) for word in words_of(page.bench.spectrum))
    lines = {match[1]: float(match[2]) for match in found if match}
    way = "backward" if lines.get("−", 0.0) > lines.get("", 0.0) else "forward"
    tasks.field("precession").button(way).click()
    tasks.check_button.click()
    assert tasks.verdict.text().startswith("✓"), tasks.verdict.text()
