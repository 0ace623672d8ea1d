"""Every broken file gives one clear line with the file's name and what to do; never more."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from analysis.files.open import open_capture
from analysis.files.setup_read import read_setup
from analysis.model.errors import InputError, SetupError
from tests.analysis.broken_files import BROKEN_CAPTURES, BROKEN_SETUPS
from tests.analysis.good_files import BrokenFile, good_hdf5


def _one_clear_line(broken: BrokenFile, message: str) -> None:
    assert broken.name in message
    assert message.isprintable(), repr(message)
    assert ";" in message or ":" in message
    for words in broken.says:
        assert words in message, message


@pytest.mark.parametrize("broken", BROKEN_CAPTURES, ids=lambda broken: broken.id)
def test_a_broken_capture_is_refused_in_one_line(broken: BrokenFile, tmp_path: Path) -> None:
    path = broken.make(tmp_path)
    with pytest.raises(InputError) as caught:
        open_capture(path).close()
    _one_clear_line(broken, str(caught.value))
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize("broken", BROKEN_SETUPS, ids=lambda broken: broken.id)
def test_a_broken_setup_is_refused_in_one_line(broken: BrokenFile, tmp_path: Path) -> None:
    path = broken.make(tmp_path)
    with pytest.raises(InputError) as caught:
        read_setup(path)
    _one_clear_line(broken, str(caught.value))


def test_all_ids_differ() -> None:
    ids = [broken.id for broken in (*BROKEN_CAPTURES, *BROKEN_SETUPS)]
    assert len(set(ids)) == len(ids)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_without_permission(tmp_path: Path) -> None:
    path = tmp_path / "locked.h5"
    good_hdf5(path)
    path.chmod(0)
    with pytest.raises(InputError, match=r"locked\.h5: no permission"):
        open_capture(path)


@pytest.mark.parametrize("name", ["", "a\0b"])
def test_a_name_that_no_file_can_have(name: str) -> None:
    with pytest.raises(InputError):
        open_capture(name)


def test_faults_in_several_tables_are_all_told_in_the_order_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "many.toml"
    path.write_text(
        'version = 1\n[machine]\nrotation = "left"\n[[probe]]\nname = "A"\nangle_deg = "x"\n'
        'scale_factor_mv_per_um = 0\nlenght = 3\n[[plane]]\nname = "P"\nprobes = ["A", "C"]\n'
        '[[limit]]\nprobes = ["B"]\nmeasure = "1x"\nlevel = "trip"\nabove = 5\nbelow = 6\n'
        "votes = 4\n"
    )
    with pytest.raises(SetupError) as caught:
        read_setup(path)
    found = [(issue.line, issue.where) for issue in caught.value.issues]
    assert found == [
        (3, "machine, rotation"),
        (6, "probe A, angle_deg"),
        (7, "probe A, scale_factor_mv_per_um"),
        (8, "probe A, lenght"),
        (11, "plane P, probes[2]"),
        (12, "limit 1"),
        (12, "limit 1"),
        (13, "limit 1, probes[1]"),
    ]
