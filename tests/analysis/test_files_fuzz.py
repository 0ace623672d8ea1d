"""Mutated files: only `InputError` or success, no hang, no other file opened, nothing written."""

from __future__ import annotations

import contextlib
import faulthandler
import random
import time
from pathlib import Path

import pytest

from analysis.files.csv_preview import preview_csv
from analysis.files.open import open_capture
from analysis.files.setup_find import find_setup
from analysis.files.setup_read import parse_setup, read_setup
from analysis.files.setup_write import updated_toml
from analysis.model.errors import InputError
from analysis.model.setup import Setup
from tests.analysis.mutations import mutated, seeds
from tests.analysis.opened_files import available, opened_in

RUNS = 400
LONGEST_S = 10.0


def _use(path: Path) -> None:
    """Everything this room does with a file that somebody hands in."""
    if path.suffix == ".toml":
        read_setup(path)
        return
    if path.suffix == ".csv":
        with contextlib.suppress(InputError):
            preview_csv(path)
    capture = open_capture(path)
    try:
        for channel in capture.channels.values():
            channel.volts(0, 1000)
        found = find_setup(capture)
        if found is not None:
            parse_setup(found.text, found.source)
    finally:
        capture.close()


@pytest.mark.parametrize(
    "name", ["plain.h5", "packed.h5", "latest.h5", "plain.csv", "semi.csv", "good.toml"]
)
def test_mutated_files_do_no_harm(name: str, tmp_path: Path) -> None:
    raw = seeds(tmp_path)[name]
    folder = tmp_path / "mutated"
    folder.mkdir()
    path = folder / f"m{Path(name).suffix}"
    watch = opened_in(folder) if available else contextlib.nullcontext(set())
    succeeded = 0
    refused: list[str] = []
    # A hang inside a C library can only be told from outside.
    faulthandler.dump_traceback_later(20 * LONGEST_S, exit=True)
    try:
        with watch as opened:
            for number in range(RUNS):
                content = mutated(raw, random.Random(number))
                path.write_bytes(content)
                start = time.perf_counter()
                try:
                    _use(path)
                    succeeded += 1
                except InputError as error:
                    refused.append(str(error))
                assert time.perf_counter() - start < LONGEST_S, number
                assert path.read_bytes() == content, number
    finally:
        faulthandler.cancel_dump_traceback_later()
    # Both must happen, else the mutations are too weak or too strong to show anything.
    assert succeeded > RUNS // 100
    assert len(refused) > RUNS // 10
    assert [words for words in refused if not words.isprintable()] == []
    assert [words for words in refused if path.name not in words] == []
    assert opened <= {path.name}
    assert [file.name for file in folder.iterdir()] == [path.name]


def test_mutated_setups_can_be_written_into(tmp_path: Path) -> None:
    raw = seeds(tmp_path)["good.toml"]
    setup, _ = parse_setup(raw.decode(), "good.toml")
    for number in range(300):
        text = mutated(raw, random.Random(number)).decode("utf-8", "replace")
        with contextlib.suppress(InputError):
            updated_toml(text, setup)
            updated_toml(text, Setup())
