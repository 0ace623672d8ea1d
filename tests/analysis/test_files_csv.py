"""CSV captures of the contract's layout: spellings, dropped samples, blocks, times, round trips."""

from __future__ import annotations

import tempfile
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.files import csv_blocks, csv_store
from analysis.files.convert import convert
from analysis.files.csv_head import attribute_line, read_attributes
from analysis.files.csv_write import write_csv
from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.jobs import JobCancelled
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.errors import InputError


def _open(tmp_path: Path, text: str | bytes) -> dict[str, list[float]]:
    path = tmp_path / "c.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    capture = open_capture(path)
    got = {name: channel.volts(0, 99).tolist() for name, channel in capture.channels.items()}
    capture.close()
    return got


SAME = {"a": [-9.5, -9.25], "b": [1.0, 2e-3]}


@pytest.mark.parametrize(
    "text",
    [
        "time_s,a,b\n0,-9.5,1\n0.5,-9.25,2e-3\n",
        "\ufefftime_s,a,b\n0,-9.5,1\n0.5,-9.25,2e-3\n",
        "time_s,a,b\r\n0,-9.5,1\r\n0.5,-9.25,2e-3\r\n\r\n",
        "time_s;a;b\n0;-9.5;1\n0.5;-9.25;2e-3",
        "time_s;a;b\n0,0;-9,5;1,0\n0,5;-9,25;2e-3\n",
        "time_s\ta\tb\n0\t-9,5\t1\n0,5\t-9,25\t0,002\n",
        "time_s, a , b\n 0, -9.5, 1 \n0.5 ,-9.25,2e-3\n",
        'time_s,"a","b"\n"0","-9.5",1\n0.5,-9.25,2e-3\n',
        "# sample_rate_hz = 2\na,b\n-9.5,1\n-9.25,2e-3\n",
        "# sample_rate_hz = 2,0;;\na;b\n-9,5;1\n-9,25;0,002\n",
        "# a remark = not a key\n#\n\n# sample_rate_hz = 2\n\na,b\n-9.5,1\n-9.25,.002\n",
    ],
)
def test_the_same_table_in_every_spelling(tmp_path: Path, text: str) -> None:
    assert _open(tmp_path, text) == SAME
    capture = open_capture(tmp_path / "c.csv")
    assert capture.channels["a"].sample_rate_hz == 2.0
    assert capture.channels["a"].start_s == 0.0
    capture.close()


def test_dropped_samples(tmp_path: Path) -> None:
    got = _open(tmp_path, "time_s,a,b\n0,,1\n1,nan,2\n2,NaN,\n3,1,\n")
    np.testing.assert_array_equal(got["a"], [np.nan, np.nan, np.nan, 1.0])
    np.testing.assert_array_equal(got["b"], [1.0, 2.0, np.nan, np.nan])
    # With one column an empty line in the middle is an empty field; those at the end are none.
    got = _open(tmp_path, "# sample_rate_hz = 2\na\n1\n\n3\n\n\n")
    np.testing.assert_array_equal(got["a"], [1.0, np.nan, 3.0])


def test_the_first_rows_do_not_fix_the_types(tmp_path: Path) -> None:
    rows = "".join(f"{i},\n" for i in range(5000)) + "5000,1.5\n"
    got = _open(tmp_path, "time_s,a\n" + rows)
    assert np.isnan(got["a"]).all()
    capture = open_capture(tmp_path / "c.csv")
    assert capture.channels["a"].volts(5000, 5001).tolist() == [1.5]
    capture.close()


@pytest.mark.parametrize("key", ["title", "notes", "setup"])
@pytest.mark.parametrize(
    "value",
    [
        "plain",
        "",
        " spaced ",
        'with "quotes"',
        '"quoted"',
        "two\nlines\r\n",
        "ends;",
        "µ = ∠",
        "\t",
    ],
)
def test_attributes_come_back_exactly(key: str, value: str) -> None:
    line = attribute_line(key, value)
    assert line.count("\n") == 1
    assert read_attributes((line.rstrip("\n"),)) == {key: value}


@given(value=st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_comes_back_in_an_attribute(value: str) -> None:
    line = attribute_line("notes", value)
    assert line.endswith("\n")
    assert "\n" not in line[:-1]
    assert read_attributes((line[:-1],)) == {"notes": value}


def test_small_blocks_and_the_scratch_file_give_the_same(tmp_path: Path, monkeypatch) -> None:
    rng = np.random.default_rng(204)
    values = np.round(rng.normal(size=(3, 5000)), 6)
    values[1, ::7] = np.nan
    channels = {
        f"C{i}": Channel(f"C{i}", 1000.0, ArraySource(row), 0.25) for i, row in enumerate(values)
    }
    path = tmp_path / "c.csv"
    write_csv(path, Capture("made", channels))
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 1777)
    monkeypatch.setattr(csv_store, "_MEMORY_BYTES", 10_000)
    capture = open_capture(path)
    for name, channel in capture.channels.items():
        assert channel.start_s == 0.25
        assert not isinstance(channel.source, ArraySource)
        np.testing.assert_array_equal(channel.volts(0, 5000), channels[name].volts(0, 5000))
        for start, stop in ((0, 0), (17, 18), (33, 4000), (4990, 5100), (-5, 3)):
            due = channels[name].volts(max(start, 0), stop)
            np.testing.assert_array_equal(channel.source.read(start, stop), due)
    source = capture.channels["C0"].source
    capture.close()
    with pytest.raises(ValueError, match="closed"):
        source.read(0, 1)


@pytest.mark.parametrize("block", [60, 200, 10_000])
def test_the_line_is_named_whatever_the_blocks(tmp_path: Path, monkeypatch, block: int) -> None:
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", block)
    lines = ["# title = x", "time_s,a", *(f"{i},1.5" for i in range(300))]
    for number, row in ((40, "37,abc"), (200, "197"), (150, ""), (299, "1,2,3")):
        spoilt = [*lines]
        spoilt[number] = row
        with pytest.raises(InputError, match=f"line {number + 1}[ ,]"):
            _open(tmp_path, "\n".join(spoilt))
    jumped = [*lines[:100], *lines[101:]]
    with pytest.raises(InputError, match="line 101: the time steps by 2 s where 1 s is due"):
        _open(tmp_path, "\n".join(jumped))


@pytest.mark.parametrize("rate", [1000.0, 25600.0, 51200.0, 44100.0, 3.7, 1e6])
@pytest.mark.parametrize("rows", [2, 3, 1000])
def test_the_rate_is_found_from_the_times(tmp_path: Path, rate: float, rows: int) -> None:
    text = "time_s,a\n" + "".join(f"{5 + i / rate!r},0\n" for i in range(rows))
    (tmp_path / "c.csv").write_text(text)
    capture = open_capture(tmp_path / "c.csv")
    assert capture.channels["a"].sample_rate_hz == pytest.approx(rate, rel=1e-9)
    assert capture.channels["a"].start_s == 5.0
    capture.close()


@pytest.mark.parametrize(("off", "accepted"), [(0.009, True), (0.011, False)])
def test_one_per_cent_of_an_interval(tmp_path: Path, off: float, accepted: bool) -> None:
    """Contract, section 3: evenly spaced to within 1 % of a sample interval."""
    times = np.arange(100) * 0.01
    times[50] += off * 0.01
    text = "time_s,a\n" + "".join(f"{t:.9f},0\n" for t in times)
    if accepted:
        assert len(_open(tmp_path, text)["a"]) == 99
    else:
        with pytest.raises(InputError, match=r"line 5[23]: .*sample_rate_hz"):
            _open(tmp_path, text)


def test_with_a_stated_rate_times_may_be_rounded(tmp_path: Path) -> None:
    rows = "".join(f"{i / 3000:.4f},0\n" for i in range(500))
    assert len(_open(tmp_path, "# sample_rate_hz = 3000\ntime_s,a\n" + rows)["a"]) == 99
    coarse = "".join(f"{i // 100},0\n" for i in range(500))
    assert len(_open(tmp_path, "# sample_rate_hz = 100\ntime_s,a\n" + coarse)["a"]) == 99
    with pytest.raises(InputError, match="samples a second"):
        _open(tmp_path, "# sample_rate_hz = 2900\ntime_s,a\n" + rows)
    gone = "".join(f"{i / 3000:.4f},0\n" for i in range(500) if i != 250)
    with pytest.raises(InputError, match="line 253: the time steps"):
        _open(tmp_path, "# sample_rate_hz = 3000\ntime_s,a\n" + gone)


def test_memory_stays_constant(tmp_path: Path, monkeypatch) -> None:
    """Python and numpy memory of the pass; that of the parser is not seen here."""
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 100_000)
    monkeypatch.setattr(csv_store, "_MEMORY_BYTES", 100_000)
    peaks = []
    for rows in (40_000, 160_000):
        path = tmp_path / f"{rows}.csv"
        path.write_text("# sample_rate_hz = 5\na\n" + "-9.123456\n" * rows)
        tracemalloc.start()
        capture = open_capture(path)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert len(capture.channels["a"]) == rows
        capture.close()
    assert peaks[1] < 1.3 * peaks[0]


class _Cancelling:
    def report(self, fraction: float, what: str = "") -> None:
        assert 0.0 <= fraction <= 1.0
        if fraction > 0.5:
            raise JobCancelled


def test_cancelling_leaves_nothing_behind(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(csv_blocks, "BLOCK_BYTES", 1000)
    monkeypatch.setattr(csv_store, "_MEMORY_BYTES", 1000)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    path = tmp_path / "c.csv"
    path.write_text("# sample_rate_hz = 5\na\n" + "1.5\n" * 5000)
    with pytest.raises(JobCancelled):
        open_capture(path, progress=_Cancelling())
    out = tmp_path / "out.h5"
    out.write_bytes(b"old")
    with pytest.raises(JobCancelled):
        convert(path, out, progress=_Cancelling())
    assert out.read_bytes() == b"old"
    assert sorted(file.name for file in tmp_path.iterdir()) == ["c.csv", "out.h5"]


def test_no_room_for_the_scratch_file_is_told(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(csv_store, "_MEMORY_BYTES", 10)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(InputError, match="scratch file"):
        _open(tmp_path, "# sample_rate_hz = 5\na\n1\n2\n3\n")


FINITE = st.floats(-30, 30) | st.just(float("nan"))


@settings(max_examples=60, deadline=None)
@given(
    columns=st.integers(1, 4).flatmap(
        lambda n: st.lists(
            st.lists(FINITE, min_size=n, max_size=n), min_size=1, max_size=30
        )
    ),
    rate=st.floats(1e-2, 1e6),
    start=st.floats(-1e3, 1e6),
    title=st.text(st.characters(exclude_categories=["Cs"])),
    setup=st.none() | st.text(st.characters(exclude_categories=["Cs"])),
)  # fmt: skip
def test_round_trip(tmp_path_factory, columns, rate, start, title, setup) -> None:
    table = np.array(columns).T
    channels = {
        name: Channel(name, rate, ArraySource(np.ascontiguousarray(row)), start)
        for name, row in zip(("DE_X", 'q"u', "a, b", "µ;m"), table, strict=False)
    }
    capture = Capture("made", channels, title=title, setup_toml=setup)
    folder = tmp_path_factory.mktemp("csv")
    write_csv(folder / "a.csv", capture)
    back = open_capture(folder / "a.csv")
    assert list(back.channels) == list(channels)
    for name, channel in channels.items():
        got = back.channels[name]
        assert (got.sample_rate_hz, got.start_s) == (rate, start)
        np.testing.assert_array_equal(got.volts(0, 99), channel.volts(0, 99))
    assert (back.title, back.setup_toml) == (title, setup)
    back.close()


def test_counts_are_written_to_a_thousandth_of_a_count(tmp_path: Path) -> None:
    counts = np.arange(-1000, 1000, dtype=np.int16)
    channel = Channel("DE_X", 100.0, ArraySource(counts), 0.0, 20 / 65536, -10.0)
    write_csv(tmp_path / "a.csv", Capture("made", {"DE_X": channel}))
    convert(tmp_path / "a.csv", tmp_path / "b.h5")
    back = open_capture(tmp_path / "b.h5")
    off = back.channels["DE_X"].volts(0, 2000) - channel.volts(0, 2000)
    assert np.abs(off).max() <= 0.001 * 20 / 65536
    back.close()


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (Channel("B", 50.0, ArraySource(np.zeros(5))), "sampling rate"),
        (Channel("B", 100.0, ArraySource(np.zeros(5)), 0.5), "start"),
        (Channel("B", 100.0, ArraySource(np.zeros(6))), "number of samples"),
        (Channel("time_s", 100.0, ArraySource(np.zeros(5))), "time_s"),
        (Channel("a\nb", 100.0, ArraySource(np.zeros(5))), "header"),
    ],
)
def test_what_one_table_cannot_hold(tmp_path: Path, second: Channel, words: str) -> None:
    first = Channel("A", 100.0, ArraySource(np.zeros(5)))
    capture = Capture("made", {"A": first, second.id: second})
    with pytest.raises(InputError, match=words):
        write_csv(tmp_path / "a.csv", capture)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", [".csv", ".h5"])
def test_the_input_is_never_written_on(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    capture = Capture("made", {"A": Channel("A", 100.0, ArraySource(np.zeros(5)))})
    write = write_csv if suffix == ".csv" else write_hdf5
    write(path, capture)
    before = path.read_bytes()
    with pytest.raises(InputError, match="being read"):
        convert(path, path)
    link = tmp_path / f"link{suffix}"
    link.hardlink_to(path)
    opened = open_capture(path)
    with pytest.raises(InputError, match="being read"):
        write(link, opened)
    opened.close()
    assert path.read_bytes() == before


def test_writing_that_fails_keeps_the_old_file(tmp_path: Path) -> None:
    class Torn(ArraySource):
        def read(self, start: int, stop: int) -> np.ndarray:
            raise InputError("torn.h5: cannot be read")

    capture = Capture("made", {"A": Channel("A", 100.0, Torn(np.zeros(5)))})
    for name, write in (("a.csv", write_csv), ("a.h5", write_hdf5)):
        (tmp_path / name).write_bytes(b"old")
        with pytest.raises(InputError, match="torn"):
            write(tmp_path / name, capture)
        assert (tmp_path / name).read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("name", ["no/such/a.h5", "folder", "a.xyz"])
def test_targets_that_cannot_be(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "in.csv").write_text("time_s,a\n0,1\n1,2\n")
    with pytest.raises(InputError):
        convert(tmp_path / "in.csv", tmp_path / name)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["folder", "in.csv"]
