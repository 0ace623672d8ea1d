"""Screenshots of zoomed pictures in both themes, and what can be checked of them by machine."""

from __future__ import annotations

import pytest

from analysis.model.span import TimeSpan

from .test_window_pictures import SAMPLE, THEMES, TIMEOUT_MS, clipped, folder, outside, take

__all__ = ["folder"]

SIZES = ((960, 640), (1280, 800), (1600, 1000))

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture
def zoomed(qtbot, window):
    """The sample, with two named spans, one of them chosen."""
    session = window.session
    session.open(SAMPLE)
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    session.spans.give("critical speed", TimeSpan(36.0, 44.0), 39.4)
    session.spans.give("slow roll", TimeSpan(2.0, 12.0), 7.0)
    session.go_to_span(session.spans.named("critical speed"))
    return window


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("theme", THEMES)
def test_a_zoomed_timeline_and_a_waveform_of_the_whole_capture(qtbot, zoomed, folder, theme, size):
    session = zoomed.session
    zoomed.resize(*size)
    session.theme.set(theme)
    session.waveform_zoom.by(1e9)
    session.span_reader.want(True)
    qtbot.waitUntil(session.span_reader.is_settled, timeout=TIMEOUT_MS)
    take(qtbot, zoomed, folder, f"zoom-whole-{theme}-{size[0]}x{size[1]}")
    assert clipped(zoomed.timeline) == []
    if size != SIZES[0]:  # there the page scrolls
        assert clipped(zoomed) == []
        assert outside(zoomed) == []


@pytest.mark.parametrize("theme", THEMES)
def test_single_revolutions_and_single_samples(qtbot, zoomed, folder, theme):
    session = zoomed.session
    zoomed.resize(1280, 800)
    session.theme.set(theme)
    session.zoom.show(TimeSpan(39.2, 39.6))
    session.waveform_zoom.by(1e-9)
    session.waveform_zoom.by(4.0)
    zoomed.timeline.spans.ask_name()
    take(qtbot, zoomed, folder, f"zoom-samples-{theme}")
    zoomed.pages["moment"].fit()
    take(qtbot, zoomed, folder, f"zoom-samples-fitted-{theme}")
    assert clipped(zoomed) == []
    assert outside(zoomed) == []
