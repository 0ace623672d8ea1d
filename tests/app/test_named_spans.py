"""Named spans, the part of the timeline that is seen, readings of a span: the session's parts."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSettings

from analysis.model.span import TimeSpan
from app.session import named_spans
from app.session.named_spans import NAME_MAX, NamedSpans
from app.session.settings import Settings
from app.session.zoom_state import TimelineZoom

LIMITS = TimeSpan(0.0, 100.0)
SLOW, FAST = TimeSpan(2.0, 12.0), TimeSpan(40.0, 60.0)
RUN, OTHER = Path("run.h5"), Path("other.h5")


def stored(tmp_path: Path) -> Settings:
    return Settings(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))


@pytest.fixture
def spans(qapp, settings) -> NamedSpans:
    made = NamedSpans(settings)
    made.load(RUN, LIMITS)
    return made


def test_a_name_is_found_again_after_a_restart(qapp, tmp_path):
    first = NamedSpans(stored(tmp_path))
    first.load(RUN, LIMITS)
    assert first.give("  critical   speed, µm & “x” ", FAST, 48.25)
    assert first.give("slow roll", SLOW, 90.0)
    del first
    again = NamedSpans(stored(tmp_path))
    again.load(RUN, LIMITS)
    assert [each.name for each in again.items] == ["slow roll", "critical speed, µm & “x”"]
    assert [each.span for each in again.items] == [SLOW, FAST]
    # A moment outside the span is none to come back to: the middle is.
    assert [each.moment_s for each in again.items] == [7.0, 48.25]
    again.load(OTHER, LIMITS)
    assert again.items == ()
    again.load(RUN, LIMITS)
    assert len(again.items) == 2


def test_names_are_one_each(spans):
    assert spans.give("Slow roll", SLOW, 5.0)
    assert not spans.give("slow ROLL", FAST, 50.0)
    assert "another span" in spans.fault_of("slow roll", FAST)
    assert spans.fault_of("slow roll", SLOW) is None
    assert not spans.give("   ", FAST, 50.0)
    assert not spans.give("x" * (NAME_MAX + 1), FAST, 50.0)
    assert len(spans.items) == 1


def test_a_span_has_one_name_and_can_have_another(spans):
    spans.give("slow", SLOW, 5.0)
    spans.give("slower", SLOW, 6.0)
    assert [(each.name, each.moment_s) for each in spans.items] == [("slower", 6.0)]
    spans.give("fast", FAST, 50.0)
    assert not spans.rename(spans.items[0], "fast")
    assert spans.rename(spans.items[0], "Slowest")
    assert spans.name_of(SLOW) == "Slowest"
    assert spans.named("slowest").moment_s == 6.0
    spans.remove(spans.items[0])
    assert [each.name for each in spans.items] == ["fast"]
    assert spans.name_of(SLOW) is None


def test_a_span_beyond_the_capture_is_left_out(spans, settings):
    spans.give("fast", FAST, 50.0)
    spans.load(RUN, TimeSpan(0.0, 50.0))
    assert spans.items == ()


def test_without_a_path_names_last_as_long_as_the_window(spans, settings):
    spans.load(None, LIMITS)
    assert spans.give("slow", SLOW, 5.0)
    spans.load(None, LIMITS)
    assert spans.items == ()


@pytest.mark.parametrize(
    "text",
    [
        "nothing of the kind",
        "{}",
        "[1, 2]",
        '[{"name": "x"}]',
        '[{"name": "x", "start_s": 5, "end_s": 2, "moment_s": 3}]',
        '[{"name": "x", "start_s": "NaN", "end_s": 2, "moment_s": 3}]',
        '[{"name": "", "start_s": 1, "end_s": 2, "moment_s": 3}]',
    ],
)
def test_what_cannot_be_read_counts_as_not_stored(spans, settings, text):
    spans.give("slow", SLOW, 5.0)
    settings.remember(named_spans._key_of(RUN), text)
    spans.load(RUN, LIMITS)
    assert spans.items == ()


def test_captures_not_touched_for_long_are_forgotten(qapp, settings, monkeypatch):
    monkeypatch.setattr(named_spans, "_MOST_CAPTURES", 3)
    spans = NamedSpans(settings)
    for number in range(5):
        spans.load(Path(f"{number}.h5"), LIMITS)
        spans.give("slow", SLOW, 5.0)
    kept = []
    for number in range(5):
        spans.load(Path(f"{number}.h5"), LIMITS)
        kept.append(bool(spans.items))
    assert kept == [False, False, True, True, True]


@pytest.fixture
def zoom(qapp) -> TimelineZoom:
    made = TimelineZoom()
    made.set_limits(LIMITS, 0.001)
    return made


def test_zooming_keeps_the_time_under_the_hand_in_place(zoom):
    for factor in (0.8, 0.5, 0.9, 1.3):
        zoom.by(factor, 40.0)
        seen = zoom.seen
        assert (40.0 - seen.start_s) / seen.length_s == pytest.approx(0.4)
    zoom.by(1e9, 40.0)
    assert zoom.seen == LIMITS
    assert not zoom.zoomed


def test_no_less_than_some_samples_and_no_more_than_all_is_seen(zoom):
    zoom.by(1e-12, 99.9999)
    assert zoom.seen.length_s == pytest.approx(0.001)
    assert zoom.seen.end_s <= 100.0
    zoom.pan(1e9)
    assert zoom.seen.end_s == pytest.approx(100.0)
    zoom.pan(-1e9)
    assert zoom.seen.start_s == 0.0
    zoom.show(TimeSpan(30.0, 30.0))
    assert zoom.seen.length_s == pytest.approx(0.001)
    zoom.show_all()
    assert zoom.seen == LIMITS


def test_the_page_is_turned_when_the_moment_leaves(zoom):
    zoom.show(TimeSpan(20.0, 30.0))
    zoom.keep_in_view(25.0)
    assert zoom.seen == TimeSpan(20.0, 30.0)
    zoom.keep_in_view(30.1)
    assert (30.1 - zoom.seen.start_s) / 10.0 == pytest.approx(0.15)
    zoom.keep_in_view(28.5)
    assert (28.5 - zoom.seen.start_s) / 10.0 == pytest.approx(0.85)
    zoom.keep_in_view(80.0)
    assert (80.0 - zoom.seen.start_s) / 10.0 == pytest.approx(0.5)


def test_nothing_is_said_when_nothing_changes(zoom, qtbot):
    zoom.show(TimeSpan(20.0, 30.0))
    with qtbot.assertNotEmitted(zoom.changed):
        zoom.show(TimeSpan(20.0, 30.0))
        zoom.keep_in_view(22.0)
        zoom.pan(0.0)
