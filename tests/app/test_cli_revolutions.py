"""`runtrue revolutions`: the contract's columns, and the truth in them."""

from __future__ import annotations

import csv
import json

import h5py
import numpy as np
import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.setup_write import setup_to_toml
from analysis.model.capture import ArraySource, Capture, Channel
from app.cli.main import main
from tests.analysis.synthetic import X, Y, capture_of, setup_of, steady


@pytest.fixture
def capture_file(tmp_path):
    made = capture_of(steady(3000.7), 2.0, 10_240.0)
    volts = made.channels["X"].volts(0, 20_480)
    volts[10_000] = np.nan
    channels = {**made.channels, "X": Channel("X", 10_240.0, ArraySource(volts))}
    path = tmp_path / "steady.h5"
    write_hdf5(path, Capture("steady", channels, setup_toml=setup_to_toml(setup_of())))
    return path


def read_csv(path):
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    return rows[0], rows[1:]


def test_columns_are_those_of_the_contract(capture_file, tmp_path, capsys):
    out = tmp_path / "t.csv"
    assert main(["revolutions", str(capture_file), "--out", str(out)]) == 0
    names, rows = read_csv(out)
    probes = [
        f"{p}.{c}"
        for p in "XY"
        for c in ("gap_um", "pp_um", "1x_um_pp", "1x_deg", "2x_um_pp", "2x_deg")
    ]
    assert names == ["time_s", "speed_rpm", *probes]
    assert f"{len(rows)} revolutions" in capsys.readouterr().out


def test_values_are_the_truth_and_a_fault_is_an_empty_field(capture_file, tmp_path):
    out = tmp_path / "t.csv"
    main(["revolutions", str(capture_file), "--out", str(out)])
    names, rows = read_csv(out)
    at = {name: i for i, name in enumerate(names)}
    assert len(rows) in (98, 99, 100)
    void = [row for row in rows if row[at["X.gap_um"]] == ""]
    assert len(void) == 1
    assert all(void[0][at[f"X.{c}"]] == "" for c in ("pp_um", "1x_um_pp", "1x_deg"))
    assert void[0][at["Y.gap_um"]] != ""
    for name, truth in (("X", X), ("Y", Y)):
        for row in rows:
            if row[at[f"{name}.gap_um"]] == "":
                continue
            assert float(row[at["speed_rpm"]]) == pytest.approx(3000.7, rel=1e-4)
            assert float(row[at[f"{name}.gap_um"]]) == pytest.approx(truth.gap_um, abs=0.1)
            for order, (amplitude, lag) in truth.orders.items():
                found = float(row[at[f"{name}.{order}x_um_pp"]])
                assert found == pytest.approx(amplitude, rel=0.003)
                apart = float(row[at[f"{name}.{order}x_deg"]]) - lag
                assert abs((apart + 180.0) % 360.0 - 180.0) < 0.3


def test_hdf5_holds_the_same_table(capture_file, tmp_path):
    table, packed = tmp_path / "t.csv", tmp_path / "t.h5"
    arguments = ["--orders", "1,2,3", "--quality"]
    for out in (table, packed):
        assert main(["revolutions", str(capture_file), "--out", str(out), *arguments]) == 0
    names, rows = read_csv(table)
    assert {"X.3x_um_pp", "put_in", "X.samples", "X.fault"} <= set(names)
    with h5py.File(packed) as file:
        assert list(file["revolutions"].attrs["columns"]) == names
        for i, name in enumerate(names):
            stored = file["revolutions"][name][:]
            written = [float(row[i]) if row[i] else np.nan for row in rows]
            assert np.array_equal(stored, written, equal_nan=True)


def test_agrees_with_measure_over_the_same_span(capture_file, tmp_path, capsys):
    out = tmp_path / "t.csv"
    main(["revolutions", str(capture_file), "--out", str(out), "--from", "0.2", "--to", "0.8"])
    capsys.readouterr()
    main(["measure", str(capture_file), "--from", "0.2", "--to", "0.8", "--json"])
    document = json.loads(capsys.readouterr().out)
    names, rows = read_csv(out)
    assert len(rows) == document["speed_rpm"]["revolutions"]
    column = [float(row[names.index("Y.pp_um")]) for row in rows]
    assert np.mean(column) == pytest.approx(document["probes"]["Y"]["peak_to_peak_um"], abs=1e-3)
    assert max(column) == pytest.approx(document["probes"]["Y"]["peak_to_peak_max_um"], abs=1e-3)


def test_without_a_reference_lags_and_orders_are_empty(tmp_path):
    made = capture_of(steady(3000.7), 1.0, 10_240.0)
    setup_toml = setup_to_toml(setup_of(reference=False))
    path, out = tmp_path / "bare.h5", tmp_path / "t.csv"
    write_hdf5(path, Capture("bare", made.channels, setup_toml=setup_toml))
    main(["revolutions", str(path), "--out", str(out)])
    names, rows = read_csv(out)
    assert len(rows) == 10  # blocks of 0.1 s
    for name in ("speed_rpm", "X.1x_um_pp", "X.1x_deg"):
        assert all(row[names.index(name)] == "" for row in rows)
    main(["revolutions", str(path), "--out", str(out), "--speed", "3000"])
    names, rows = read_csv(out)
    assert all(row[names.index("X.1x_deg")] == "" for row in rows)
    found = [float(row[names.index("X.1x_um_pp")]) for row in rows]
    assert found == pytest.approx([104.0] * len(rows), rel=0.005)


def test_a_capture_is_never_written_onto(capture_file, capsys):
    before = capture_file.read_bytes()
    assert main(["revolutions", str(capture_file), "--out", str(capture_file)]) == 1
    assert "steady.h5" in capsys.readouterr().err
    assert capture_file.read_bytes() == before


def test_without_a_setup_it_says_what_to_do(tmp_path, capsys):
    made = capture_of(steady(3000.7), 0.5, 10_240.0)
    write_hdf5(tmp_path / "plain.h5", made)
    out = tmp_path / "t.csv"
    assert main(["revolutions", str(tmp_path / "plain.h5"), "--out", str(out)]) == 1
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "plain.h5" in error
    assert "--setup" in error
    assert not out.exists()
