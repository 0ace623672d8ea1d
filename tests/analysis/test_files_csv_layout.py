"""CSV files of other layouts: what the reader says of them, and what the preview guesses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.files.csv_layout import CsvColumn, CsvLayout, parse_columns
from analysis.files.csv_preview import preview_csv
from analysis.files.open import open_capture
from analysis.model.capture import Capture
from analysis.model.errors import InputError

LOGGER = (
    "Logger 7\n"
    "made;2026-03-02\n"
    "\n"
    "Date;P1;P2 [mV];remark\n"
    ";mV;;\n"
    "2026-03-02T08:15:00,000+01:00;-9800,5;-9700;ok\n"
    "2026-03-02T08:15:00,001+01:00;-9801,5;;x\n"
    "2026-03-02T08:15:00,002+01:00;-9802,5;-9702;\n"
)


def _write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "other.csv"
    path.write_text(text, encoding="utf-8")
    return path


def _volts(capture: Capture) -> dict[str, list[float]]:
    return {name: channel.volts(0, 99).tolist() for name, channel in capture.channels.items()}


def test_a_loggers_file_is_guessed_and_opens_with_the_guess(tmp_path: Path) -> None:
    path = _write(tmp_path, LOGGER)
    with pytest.raises(InputError, match=r"other\.csv: .*--"):
        open_capture(path)
    preview = preview_csv(path)
    assert preview.problems == ()
    assert preview.first_line == 4
    assert preview.rows[0] == ("Date", "P1", "P2 [mV]", "remark")
    assert [column.role for column in preview.columns] == ["time", "channel", "channel", "text"]
    layout = preview.layout
    assert (layout.separator, layout.decimal, layout.skip_rows) == (";", ",", 3)
    capture = open_capture(path, layout=layout)
    got = _volts(capture)
    np.testing.assert_allclose(got["P1"], [-9.8005, -9.8015, -9.8025])
    np.testing.assert_allclose(got["P2 [mV]"], [-9.7, np.nan, -9.702])
    assert capture.channels["P1"].sample_rate_hz == 1000.0
    assert capture.started_at == "2026-03-02T08:15:00,000+01:00"
    assert capture.warnings == ()
    capture.close()


def test_columns_can_be_chosen_renamed_and_given_units(tmp_path: Path) -> None:
    layout = CsvLayout(
        skip_rows=3,
        columns=(CsvColumn("3", "DE_Y", "V"), CsvColumn("p1", "DE_X")),
        time_column="Date",
        sample_rate_hz=1000.0,
    )
    capture = open_capture(_write(tmp_path, LOGGER), layout=layout)
    got = _volts(capture)
    assert list(got) == ["DE_Y", "DE_X"]
    np.testing.assert_allclose(got["DE_Y"], [-9700, np.nan, -9702])
    np.testing.assert_allclose(got["DE_X"], [-9.8005, -9.8015, -9.8025])
    capture.close()


def test_without_header_and_times(tmp_path: Path) -> None:
    path = _write(tmp_path, "1\t2\n3\t4\n")
    preview = preview_csv(path)
    assert not preview.layout.has_header
    assert any("sample-rate" in problem for problem in preview.problems)
    layout = CsvLayout(
        has_header=False, unit="mV", sample_rate_hz=50, columns=parse_columns("1=A,2=B")
    )
    capture = open_capture(path, layout=layout)
    assert _volts(capture) == {"A": [0.001, 0.003], "B": [0.002, 0.004]}
    capture.close()


@pytest.mark.parametrize(
    ("stamps", "step"),
    [
        (("2026-03-02 08:15:00.00", "2026-03-02 08:15:00.25"), 0.25),
        (("2026-03-02T08:15:00Z", "2026-03-02T08:15:00.125Z"), 0.125),
        (("2026/12/31 23:59:59.9", "2027/01/01 00:00:00.1"), 0.2),
        (("31.12.2026 23:59:59", "01.01.2027 00:00:01"), 2.0),
        (("23:59:59.500", "00:00:00.000"), 0.5),
        (("08:15:00.000001", "08:15:00.000002"), 1e-6),
    ],
)
def test_time_stamps(tmp_path: Path, stamps: tuple[str, str], step: float) -> None:
    path = _write(tmp_path, f"when,a\n{stamps[0]},1\n{stamps[1]},2\n")
    capture = open_capture(path, layout=preview_csv(path).layout)
    assert capture.channels["a"].sample_rate_hz == pytest.approx(1 / step, rel=1e-6)
    assert capture.channels["a"].start_s == 0.0
    capture.close()


@pytest.mark.parametrize(("unit", "rate"), [("s", 2.0), ("ms", 2000.0), ("us", 2e6)])
def test_units_of_a_time_column(tmp_path: Path, unit: str, rate: float) -> None:
    path = _write(tmp_path, f"Time,a\n({unit}),(V)\n0,1\n0.5,2\n1.0,3\n")
    for layout in (preview_csv(path).layout, CsvLayout(time_column="time", time_unit=unit)):  # type: ignore[arg-type]
        capture = open_capture(path, layout=layout)
        assert capture.channels["a"].sample_rate_hz == pytest.approx(rate)
        capture.close()


@pytest.mark.parametrize(
    ("text", "layout", "words"),
    [
        (LOGGER, CsvLayout(skip_rows=3, time_column="Datum"), "did you mean 'Date'"),
        (LOGGER, CsvLayout(skip_rows=3, columns=parse_columns("P3"), time_column="Date"), "P3"),
        (LOGGER, CsvLayout(skip_rows=3, time_column="Date"), "'ok' is no number"),
        (LOGGER, CsvLayout(skip_rows=99), "no row of data"),
        ("t,a\nMonday,1\nTuesday,2\n", CsvLayout(time_column="t", time_unit="stamp"), "line 2"),
        ("t,a\n08:00:00,1\n08:00:99,2\n", CsvLayout(time_column="t"), "line 3: '08:00:99'"),
        ("a,b\n1,2\n", CsvLayout(sample_rate_hz=-1.0), "sample_rate_hz"),
        ("a,b\n1,2\n", CsvLayout(sample_rate_hz=5, columns=parse_columns("a=X,b=X")), "'X'"),
        ("a;b\n1;2,5\n", CsvLayout(sample_rate_hz=5, decimal="."), "--decimal ,"),
    ],
)
def test_layouts_that_do_not_fit(tmp_path: Path, text: str, layout: CsvLayout, words: str) -> None:
    with pytest.raises(InputError) as caught:
        open_capture(_write(tmp_path, text), layout=layout)
    assert words in str(caught.value)
    assert str(caught.value).isprintable()


def test_layouts_that_cannot_be() -> None:
    with pytest.raises(InputError, match="decimal comma"):
        CsvLayout(separator=",", decimal=",")
    with pytest.raises(InputError, match="separator"):
        CsvLayout(separator="|")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="left out"):
        CsvLayout(skip_rows=-1)
    with pytest.raises(InputError, match="list of columns"):
        parse_columns("a=b,,c=d")


def test_columns_from_the_command_line() -> None:
    assert parse_columns("P1=DE_X, 3 ,x y=z") == (
        CsvColumn("P1", "DE_X"),
        CsvColumn("3", "3"),
        CsvColumn("x y", "z"),
    )


def test_a_file_in_order_needs_nothing_said(tmp_path: Path) -> None:
    path = _write(tmp_path, "# title = x\n# sample_rate_hz = 5\nA,B\n1,2\n3,4\n")
    preview = preview_csv(path)
    assert preview.problems == ()
    capture = open_capture(path, layout=preview.layout)
    assert (capture.title, _volts(capture)) == ("x", {"A": [1.0, 3.0], "B": [2.0, 4.0]})
    capture.close()


def test_the_preview_tells_what_is_wrong_in_the_first_rows(tmp_path: Path) -> None:
    path = _write(tmp_path, "time_s,a\n0,1\n1,2\n2,3,4\n")
    (problem,) = preview_csv(path).problems
    assert problem.startswith("line 4 has 3 fields")
