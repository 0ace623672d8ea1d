"""Broken captures and setups, each with a builder and what must be said of it.

Kept in lists, so that the reader's tests, the command line's and the window's loop over the same
files. `says` are words that must stand in the one line the reader is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.analysis.broken_hdf5 import BROKEN_HDF5
from tests.analysis.good_files import (
    GOOD_CSV,
    GOOD_SETUP,
    BrokenFile,
    good_hdf5,
    nothing,
    of_bytes,
    of_text,
)

__all__ = [
    "BROKEN_CAPTURES",
    "BROKEN_CSV",
    "BROKEN_HDF5",
    "BROKEN_SETUPS",
    "GOOD_CSV",
    "GOOD_SETUP",
    "BrokenFile",
    "good_hdf5",
]


def _rows(line: int, row: str) -> Callable[[Path], None]:
    """The good CSV file with one line (from 1) put in place of another."""
    lines = GOOD_CSV.splitlines()
    lines[line - 1] = row
    return of_text("\n".join(lines) + "\n")


BROKEN_CSV = [
    BrokenFile("csv-missing", "gone.csv", ("no such file",), nothing),
    BrokenFile("csv-empty", "empty.csv", ("empty",), of_bytes(b"")),
    BrokenFile("csv-blank", "blank.csv", ("no row",), of_bytes(b"\n\n  \n")),
    BrokenFile("csv-only-remarks", "remarks.csv", ("no row",), of_bytes(b"# title = x\n# y\n")),
    BrokenFile("csv-header-only", "header.csv", ("no row of data",), of_text("time_s,a\n")),
    BrokenFile("csv-only-time", "time.csv", ("no channel",), of_text("time_s\n0\n1\n")),
    BrokenFile("csv-no-time", "notime.csv", ("time_s", "--sample-rate"),
               of_text("a,b\n1,2\n3,4\n")),
    BrokenFile("csv-no-header", "nohead.csv", ("line 1", "--no-header"), of_text("0,1\n1,2\n")),
    BrokenFile("csv-units", "units.csv", ("line 2", "--units"),
               of_text("time_s,a\ns,mV\n0,1\n1,2\n")),
    BrokenFile("csv-millivolts", "mv.csv", ("millivolts",), of_text("time_s,a [mV]\n0,1\n1,2\n")),
    BrokenFile("csv-twice", "twice.csv", ("both called 'a'",),
               of_text("time_s,a,a\n0,1,2\n1,2,3\n")),
    BrokenFile("csv-no-name", "noname.csv", ("column 3",), of_text("time_s,a,\n0,1,\n1,2,\n")),
    BrokenFile("csv-short-row", "short.csv", ("line 4", "2 fields"), _rows(4, "0.001,-9.9")),
    BrokenFile("csv-long-row", "long.csv", ("line 4", "4 fields"), _rows(4, "0.001,-9.9,1,2")),
    BrokenFile("csv-blank-row", "gap.csv", ("line 4", "empty"), _rows(4, "")),
    BrokenFile("csv-text", "text.csv", ("line 5", "'OVER'"), _rows(5, "0.002,OVER,1")),
    BrokenFile("csv-infinite", "inf.csv", ("line 5", "infinite"), _rows(5, "0.002,inf,1")),
    BrokenFile("csv-too-big", "big.csv", ("line 5", "infinite"), _rows(5, "0.002,1e999,1")),
    BrokenFile("csv-hex", "hex.csv", ("line 5", "'0x10'"), _rows(5, "0.002,0x10,1")),
    BrokenFile("csv-no-such-time", "not.csv", ("line 5", "no time"), _rows(5, ",1,1")),
    BrokenFile("csv-missing-row", "jump.csv", ("line 5", "0.002 s"), _rows(5, "0.003,1,1")),
    BrokenFile("csv-time-back", "back.csv", ("line 5",), _rows(5, "0.0,1,1")),
    BrokenFile("csv-time-stands", "stand.csv", ("does not move",), of_text("time_s,a\n1,1\n1,2\n")),
    BrokenFile("csv-rounded-times", "round.csv", ("# sample_rate_hz",),
               of_text("time_s,a\n0,1\n0.0003,1\n0.0007,1\n0.0010,1\n")),
    BrokenFile("csv-one-row", "one.csv", ("one row",), of_text("time_s,a\n0,1\n")),
    BrokenFile("csv-latin-1", "latin.csv", ("line 1", "UTF-8"),
               of_text("# title = Pumpe für Sole\ntime_s,a\n0,1\n1,2\n", "latin-1")),
    BrokenFile("csv-latin-1-late", "late.csv", ("line 3", "UTF-8"),
               of_bytes(b"time_s,a\n0,1\n1,2\xb5\n")),
    BrokenFile("csv-utf-16", "utf16.csv", ("UTF-16",), of_text(GOOD_CSV, "utf-16")),
    BrokenFile("csv-utf-16-bare", "utf16le.csv", ("UTF-16",), of_text(GOOD_CSV, "utf-16-le")),
    BrokenFile("csv-nul", "nul.csv", ("line 3", "NUL"), of_bytes(b"time_s,a\n0,1\n1,\x002\n")),
    BrokenFile("csv-binary", "binary.csv", ("NUL",), of_bytes(bytes(range(256)) * 20)),
    BrokenFile("csv-cr", "cr.csv", ("CR alone",), of_bytes(b"time_s,a\r0,1\r1,2\r")),
    BrokenFile("csv-endless", "endless.csv", ("never ends",), of_bytes(b"1," * 3_000_000)),
    BrokenFile("csv-bad-rate", "rate.csv", ("sample_rate_hz", "no number"),
               of_text("# sample_rate_hz = fast\na\n1\n2\n")),
    BrokenFile("csv-rate-zero", "rate0.csv", ("sample_rate_hz is 0",),
               of_text("# sample_rate_hz = 0\na\n1\n2\n")),
    BrokenFile("csv-other-rate", "rate2.csv", ("due",),
               of_text("# sample_rate_hz = 100\n" + GOOD_CSV)),
    BrokenFile("csv-newer", "newer.csv", ("newer",),
               of_text("# runtrue_capture = 7\n" + GOOD_CSV)),
    BrokenFile("csv-decimal-comma", "comma.csv", ("line",),
               of_text("time_s,a\n0,0,1,5\n0,1,1,6\n")),
    BrokenFile("csv-thousands", "thousand.csv", ("line 2", "'1.000,5'"),
               of_text("time_s;a\n0;1.000,5\n1;1.000,6\n")),
    BrokenFile("toml-as-capture", "setup.toml", ("setup", "capture"), of_text(GOOD_SETUP)),
]  # fmt: skip

BROKEN_CAPTURES = [*BROKEN_HDF5, *BROKEN_CSV]


def _setup(old: str, new: str) -> Callable[[Path], None]:
    """The good setup with a piece of text put in place of its first."""
    assert old in GOOD_SETUP
    return of_text(GOOD_SETUP.replace(old, new, 1))


def _more(text: str) -> Callable[[Path], None]:
    return of_text(GOOD_SETUP + "\n" + text)


BROKEN_SETUPS = [
    BrokenFile("setup-missing", "gone.toml", ("no such file",), nothing),
    BrokenFile("setup-empty", "empty.toml", ("empty",), of_bytes(b"")),
    BrokenFile("setup-latin-1", "latin.toml", ("line 2", "UTF-8"),
               of_bytes(b"version = 1\n# \xe9")),
    BrokenFile("setup-huge", "huge.toml", ("too many",), of_bytes(b"#" * 2_000_000)),
    BrokenFile("setup-syntax", "syntax.toml", ("line 4",), _setup('title = "', "title = ")),
    BrokenFile("setup-open", "open.toml", ("line",), of_text(GOOD_SETUP + "x = [1,\n")),
    BrokenFile("setup-nested", "nested.toml", ("TOML",), of_text("a = " + "[" * 5000)),
    BrokenFile("setup-no-version", "nov.toml", ("version = 1",), _setup("version = 1", "")),
    BrokenFile("setup-newer", "newer.toml", ("newer",), _setup("version = 1", "version = 2")),
    BrokenFile("setup-version-text", "vt.toml", ("whole number",), _setup("= 1", '= "1"')),
    BrokenFile("setup-unknown-table", "table.toml", ("'probes'", "'probe'"),
               _setup("[[probe]]", "[[probes]]")),
    BrokenFile("setup-unknown-key", "key.toml", ("line 9", "did you mean 'angle_deg'"),
               _setup("angle_deg", "angel_deg")),
    BrokenFile("setup-type", "type.toml", ("probe DE-X, angle_deg", 'the text "45"'),
               _setup("45.0", '"45"')),
    BrokenFile("setup-single-table", "single.toml", ("[[plane]]",), _setup("[[plane]]", "[plane]")),
    BrokenFile("setup-double-table", "double.toml", ("[machine]",),
               _setup("[machine]", "[[machine]]")),
    BrokenFile("setup-zero-scale", "zero.toml", ("scale_factor_mv_per_um", "above 0"),
               _setup("7.874", "0")),
    BrokenFile("setup-no-scale", "noscale.toml", ("scale factor",),
               _setup("scale_factor_mv_per_um = 7.874", "")),
    BrokenFile("setup-no-name", "noname.toml", ("probe 1, name", "missing"),
               _setup('name = "DE-X"', "")),
    BrokenFile("setup-twice", "twice.toml", ("line 13", "stands twice"),
               _setup('"DE-Y"', '"DE-X"')),
    BrokenFile("setup-no-probe", "noprobe.toml", ("line 20", "did you mean 'DE-Y'"),
               _setup('["DE-X", "DE-Y"]', '["DE-X", "DE_Y"]')),
    BrokenFile("setup-parallel", "parallel.toml", ("10°", "15°"), _setup("-45.0", "35.0")),
    BrokenFile("setup-opposite", "opposite.toml", ("0°", "15°"), _setup("-45.0", "-135.0")),
    BrokenFile("setup-axial", "axial.toml", ("axial", "radial"),
               _setup("angle_deg = 45.0", 'kind = "axial"')),
    BrokenFile("setup-no-angle", "noangle.toml", ("no angle",), _setup("angle_deg = 45.0", "")),
    BrokenFile("setup-bounds", "bounds.toml", ("limit 1", "must be less"),
               _more('[[limit]]\nprobes=["DE-X"]\nmeasure="position"\nlevel="trip"\n'
                     "above=10\nbelow=20\n")),
    BrokenFile("setup-order", "order.toml", ("beyond its trip",),
               _more('[[limit]]\nprobes=["DE-X"]\nmeasure="peak_to_peak"\nlevel="alarm"\nabove=90\n'
                     '[[limit]]\nprobes=["DE-X"]\nmeasure="peak_to_peak"\nlevel="trip"\nabove=80\n')),
    BrokenFile("setup-output", "output.toml", ("output 1, probe", "DE-Z"),
               _more('[[output]]\nprobe="DE-Z"\nmeasure="position"\nrange_um=[0,100]\n')),
]  # fmt: skip
