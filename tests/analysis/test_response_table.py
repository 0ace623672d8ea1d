"""Tables of vectors: what is read, and that no damage to one makes more than a clear line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.files.response_table import looks_like_response_table, read_response_table
from analysis.model.errors import InputError
from analysis.rotor.vectors import vector_from
from analysis.views.response import answer_table_response

GOOD = """\
# a remark
time_s;speed_rpm;DE-X.gap_um;DE-X.1x_um_pp;DE-X.1x_deg;DE-X.2x_um_pp;DE-X.2x_deg
0,5;400,0;;4,0;297,0;1,0;10
1,0;500,0;x;4,5;300,0;;
1,5;;;5,0;301,0;1,2;12
2,0;700,0;;nan;;1,3;14
2,5;800,0;;6,0;310,0;1,4;16
"""


def test_what_is_read(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert looks_like_response_table(path)
    table = read_response_table(path)
    assert table.speed_rpm.tolist() == [400.0, 500.0, 700.0, 800.0]
    assert table.time_s.tolist() == [0.5, 1.0, 2.0, 2.5]
    assert list(table.vectors) == ["DE-X"]
    assert sorted(table.vectors["DE-X"]) == [1, 2]
    first = table.vectors["DE-X"][1]
    assert first[0] == pytest.approx(vector_from(4.0, 297.0))
    assert np.isnan(first[2])
    assert np.isnan(table.vectors["DE-X"][2][1])


def test_a_capture_is_no_table(tmp_path: Path) -> None:
    path = tmp_path / "c.csv"
    path.write_text("time_s,DE_X\n0,-9.8\n0.001,-9.7\n")
    assert not looks_like_response_table(path)
    binary = tmp_path / "b.csv"
    binary.write_bytes(b"\0\1speed_rpm")
    assert not looks_like_response_table(binary)


@settings(
    max_examples=400,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    place=st.integers(0, len(GOOD.encode()) - 1),
    length=st.integers(0, 40),
    put=st.binary(max_size=12),
)
def test_damaged_tables_read_or_say_why(
    tmp_path: Path, place: int, length: int, put: bytes
) -> None:
    data = GOOD.encode()
    path = tmp_path / "d.csv"
    path.write_bytes(data[:place] + put + data[place + length :])
    told = ""
    try:
        table = read_response_table(path)
        assert len(table.speed_rpm) == len(table.time_s) >= 3
        answer_table_response(table)
    except InputError as error:
        told = str(error)
    assert not told or told.startswith("d.csv: ")
    assert "\n" not in told


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    speeds=st.lists(st.floats(1.0, 20_000.0), min_size=3, max_size=40),
    size=st.floats(0.0, 1e4),
    seed=st.integers(0, 99),
)
def test_any_numbers_are_answered(speeds: list[float], size: float, seed: int) -> None:
    """Nothing of what a table can hold makes more than doubts."""
    from analysis.model.response_results import ResponseTable
    from analysis.reporting.response_json import response_document

    random = np.random.default_rng(seed)
    n = len(speeds)
    vectors = size * (random.standard_normal(n) + 1j * random.standard_normal(n))
    vectors[random.random(n) < 0.1] = np.nan
    table = ResponseTable("t", np.arange(n) * 0.1, np.array(speeds), {"X": {1: vectors}})
    document = response_document(answer_table_response(table))
    assert set(document["probes"]) == {"X"}
