"""Even times are proved from facts of blocks, which must never say less than the times do."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.files import csv_blocks, csv_store, csv_times
from analysis.files.csv_even import at_most_off, time_facts
from analysis.files.csv_layout import CsvLayout
from analysis.files.open import open_capture
from analysis.model.errors import InputError


def _furthest_off(times: np.ndarray) -> float:
    """By the contract's own words: distances from even times between the first and the last."""
    return float(np.max(np.abs(times - np.linspace(times[0], times[-1], len(times)))))


@given(
    blocks=st.lists(
        st.lists(st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=6), min_size=1, max_size=3),
        min_size=1,
        max_size=5,
    ),
    start=st.floats(-1e3, 1e3),
)
def test_no_time_lies_further_off_than_the_bound(
    blocks: list[list[list[float]]], start: float
) -> None:
    steady = iter(range(1000))
    pieces = [
        [np.array([start + next(steady) + off for off in piece]) for piece in block]
        for block in blocks
    ]
    times = np.concatenate([piece for block in pieces for piece in block])
    bound = at_most_off([time_facts(block) for block in pieces])
    true = _furthest_off(times)
    assert true - 1e-9 <= bound
    # Nor is the bound so wide that even times would be looked at twice: a time's own distance, and
    # those of its block's ends, make it up.
    assert bound <= 3.0 * true + 1e-9


def test_a_missing_time_leaves_everything_in_doubt() -> None:
    for place in range(6):
        times = np.arange(6.0)
        times[place] = math.nan
        assert math.isnan(
            at_most_off([time_facts([times[:2], times[2:4]]), time_facts([times[4:]])])
        )


def test_times_that_overflow_prove_nothing_and_warn_of_nothing() -> None:
    vast = np.array([-1.7e308, 1.7e308, -1.7e308, 1.7e308])
    assert not at_most_off([time_facts([vast]), time_facts([vast])]) < 1e308


def _write(path: Path, times: np.ndarray, head: str = "") -> Path:
    path.write_text(head + "time_s,a\n" + "".join(f"{t!r},1.5\n" for t in times.tolist()))
    return path


def test_straight_blocks_of_different_rates_are_no_even_time(tmp_path: Path, monkeypatch) -> None:
    """No block bends: only their ends tell that the second half runs slower."""
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 300)
    steps = np.where(np.arange(400) < 200, 1.0, 1.0005)
    path = _write(tmp_path / "c.csv", np.round(np.cumsum(steps), 4))
    with pytest.raises(InputError, match="1 % of a sample interval"):
        open_capture(path)
    with pytest.raises(InputError, match=r"samples a second, sample_rate_hz says 0\.98"):
        open_capture(path, layout=CsvLayout(sample_rate_hz=0.98))


@pytest.mark.parametrize("head", ["", "# sample_rate_hz = 25600\n"])
def test_even_times_are_gone_through_once(tmp_path: Path, monkeypatch, head: str) -> None:
    """Rounded to the nanosecond, as loggers write them: nothing is left in doubt."""
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 1000)
    monkeypatch.setattr(csv_times, "_refuse_missing", lambda *_: pytest.fail("a second look"))
    path = _write(tmp_path / "c.csv", np.round(np.arange(500) / 25600.0, 9), head)
    capture = open_capture(path)
    assert capture.channels["a"].sample_rate_hz == pytest.approx(25600.0, rel=1e-7)
    capture.close()


@pytest.mark.parametrize("row", [0, 13, 299])
@pytest.mark.parametrize("memory", [0, 2000, 10**6])
def test_a_fault_is_found_in_memory_and_scratch_file(
    tmp_path: Path, monkeypatch, row: int, memory: int
) -> None:
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 500)
    monkeypatch.setattr(csv_store, "_MEMORY_BYTES", memory)
    times = np.arange(300.0)
    lines = [f"{t},1.5" for t in times]
    lines[row] = ",1.5"
    path = tmp_path / "c.csv"
    path.write_text("time_s,a\n" + "\n".join(lines))
    with pytest.raises(InputError, match=f"line {row + 2} has no time"):
        open_capture(path)
    lines[row] = f"{times[row]},-inf"
    path.write_text("time_s,a\n" + "\n".join(lines))
    with pytest.raises(InputError, match=f"line {row + 2}, column 'a': '-inf' is infinite"):
        open_capture(path)


def test_stamps_follow_on_one_another_over_blocks(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 200)
    layout = CsvLayout(time_column="t", time_unit="stamp", unit="mV")
    stamps = [
        f"{(i // 3600 + 23) % 24:02d}:{i // 60 % 60:02d}:{i % 60:02d}" for i in range(3500, 3700)
    ]
    path = tmp_path / "c.csv"
    path.write_text("t,a\n" + "".join(f"{s},{i}\n" for i, s in enumerate(stamps)))
    capture = open_capture(path, layout=layout)
    assert capture.channels["a"].sample_rate_hz == 1.0
    np.testing.assert_allclose(capture.channels["a"].volts(0, 200), np.arange(200) * 1e-3)
    capture.close()
    stamps[150] = "noon"
    path.write_text("t,a\n" + "".join(f"{s},{i}\n" for i, s in enumerate(stamps)))
    with pytest.raises(InputError, match="line 152: 'noon' is no date and time"):
        open_capture(path, layout=layout)


def test_a_closed_capture_is_not_read(tmp_path: Path) -> None:
    """A small one, all in memory, no less than one that has a scratch file."""
    capture = open_capture(_write(tmp_path / "c.csv", np.arange(5.0)))
    source = capture.channels["a"].source
    assert source.read(1, 3).tolist() == [1.5, 1.5]
    capture.close()
    with pytest.raises(ValueError, match="closed"):
        source.read(1, 3)
