"""The revolution table in the cache: the timeline of a capture that is opened again."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.files.overview_cache import OverviewCache
from analysis.files.overview_table import load_table, store_table
from analysis.model.setup import Setup
from analysis.views import timeline
from analysis.views.timeline import TimelineResult, answer_timeline
from tests.analysis.synthetic import capture_of, ramp, setup_of


@pytest.fixture
def path(tmp_path: Path) -> Path:
    capture = capture_of(ramp(1200.0, 3000.0, 4.0), 4.0, 5000.0, noise_um=1.0)
    write_hdf5(tmp_path / "ramp.h5", capture)
    return tmp_path / "ramp.h5"


@pytest.fixture
def cache(tmp_path: Path) -> OverviewCache:
    return OverviewCache(tmp_path / "cache")


class Passes:
    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.count = 0
        made = timeline.revolution_table

        def counted(*args: Any, **more: Any) -> Any:
            self.count += 1
            return made(*args, **more)

        monkeypatch.setattr(timeline, "revolution_table", counted)


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Passes:
    return Passes(monkeypatch)


def asked(path: Path, setup: Setup, cache: OverviewCache | None, **more: Any) -> TimelineResult:
    capture = open_capture(path)
    answer = answer_timeline(capture, setup, cache=cache, **more)
    capture.close()
    return answer


def same(one: Any, other: Any) -> None:
    """All fields of two results, however deep, to the bit."""
    if isinstance(one, np.ndarray):
        assert one.dtype == other.dtype
        np.testing.assert_array_equal(one, other)
    elif hasattr(one, "__dataclass_fields__"):
        assert type(one) is type(other)
        for field in fields(one):
            same(getattr(one, field.name), getattr(other, field.name))
    elif hasattr(one, "keys"):
        assert list(one) == list(other)
        for key in one:
            same(one[key], other[key])
    else:
        assert type(one) is type(other)
        assert one == other


@pytest.mark.parametrize(
    ("setup", "speed_rpm"),
    [(setup_of(), None), (setup_of(reference=False), None), (setup_of(reference=False), 2000.0)],
    ids=["events", "blocks", "speed"],
)
def test_the_second_time_it_is_the_same_and_nothing_is_read(
    path: Path, cache: OverviewCache, passes: Passes, setup: Setup, speed_rpm: float | None
) -> None:
    plain = asked(path, setup, None, speed_rpm=speed_rpm)
    assert len(plain.table) > 10
    first = asked(path, setup, cache, speed_rpm=speed_rpm)
    assert passes.count == 2
    again = asked(path, setup, cache, speed_rpm=speed_rpm)
    assert passes.count == 2
    same(first, plain)
    same(again, plain)


def test_no_revolution_at_all(path: Path, cache: OverviewCache, passes: Passes) -> None:
    setup = setup_of(phase_reference={"channel": "X", "threshold_v": -20.0})
    first = asked(path, setup, cache)
    again = asked(path, setup, cache)
    same(again, first)
    assert passes.count == 1


def test_limits_that_moved_judge_the_table_that_is_kept(
    path: Path, cache: OverviewCache, passes: Passes
) -> None:
    asked(path, setup_of(), cache)
    limit = {"probes": ["X"], "measure": "peak_to_peak", "level": "alarm", "above": 20.0}
    judged = asked(path, setup_of(limit=[limit]), cache)
    assert passes.count == 1
    assert (judged.condition["X"] == 1).any()


@pytest.mark.parametrize(
    "other",
    [
        {"setup": setup_of(angles=(30.0, -60.0))},
        {"setup": setup_of(reference=False)},
        {"setup": setup_of(phase_reference={"channel": "REF", "edge": "rising"})},
        {"setup": setup_of(), "speed_rpm": 1500.0},
    ],
    ids=["angles", "no reference", "edge", "speed"],
)
def test_another_question_is_answered_anew(
    path: Path, cache: OverviewCache, passes: Passes, other: dict[str, Any]
) -> None:
    asked(path, setup_of(), cache)
    setup, speed_rpm = other["setup"], other.get("speed_rpm")
    ours = asked(path, setup, cache, speed_rpm=speed_rpm)
    assert passes.count == 2
    same(ours, asked(path, setup, None, speed_rpm=speed_rpm))


def test_another_program_makes_its_own(
    path: Path, cache: OverviewCache, passes: Passes, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked(path, setup_of(), cache)
    monkeypatch.setattr(timeline, "method_of", lambda *_packages: "of another version")
    asked(path, setup_of(), cache)
    assert passes.count == 2


def test_a_damaged_entry_is_made_again(path: Path, cache: OverviewCache, passes: Passes) -> None:
    plain = asked(path, setup_of(), cache)
    assert cache.folder is not None
    (entry,) = cache.folder.iterdir()
    content = bytearray(entry.read_bytes())
    content[len(content) // 2] ^= 4
    entry.write_bytes(content)
    same(asked(path, setup_of(), cache), plain)
    assert passes.count == 2
    same(asked(path, setup_of(), cache), plain)
    assert passes.count == 2


def test_a_table_alone_is_kept_under_any_names(path: Path, cache: OverviewCache) -> None:
    table = asked(path, setup_of(), None).table
    odd = dict(zip(["a/b", "µ 1"], table.probes.values(), strict=True))
    odd_table = type(table)(
        table.kind,
        table.start_s,
        table.end_s,
        table.speed_rpm,
        table.repaired,
        odd,
        ("so", "be it"),
    )
    assert store_table(cache, "key", odd_table)
    same(load_table(cache, "key"), odd_table)
    assert load_table(cache, "other") is None
