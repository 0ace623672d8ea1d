"""An untrusted capture must not make the program open another file."""

from __future__ import annotations

from pathlib import Path

import h5py
import pytest

from analysis.files.open import open_capture
from analysis.model.errors import InputError
from tests.analysis.broken_hdf5 import BROKEN_HDF5
from tests.analysis.good_files import good_hdf5
from tests.analysis.opened_files import available, opened_in

pytestmark = pytest.mark.skipif(not available, reason="asks the Linux kernel")

TRAPS = [
    broken
    for broken in BROKEN_HDF5
    if broken.id
    in ("external-link", "external-group", "virtual", "external-storage", "foreign-filter")
]


@pytest.mark.parametrize("trap", TRAPS, ids=lambda trap: trap.id)
def test_the_target_of_a_trap_is_not_opened(trap, tmp_path: Path) -> None:
    path = trap.make(tmp_path)
    with opened_in(tmp_path) as opened, pytest.raises(InputError):
        open_capture(path)
    assert opened == {path.name}


def test_the_watch_would_see_it(tmp_path: Path) -> None:
    """Following the same link with h5py itself does open the other file."""
    path = next(trap for trap in TRAPS if trap.id == "external-link").make(tmp_path)
    with opened_in(tmp_path) as opened, h5py.File(path, "r") as file:
        assert file["channels/LINK"].shape == (50,)
    assert opened == {path.name, "other.h5"}


def test_a_link_outside_the_channels_is_left_alone(tmp_path: Path) -> None:
    """Anything the contract does not name is ignored, so its links are not followed either."""
    path = tmp_path / "extra.h5"
    good_hdf5(path)
    good_hdf5(tmp_path / "other.h5")
    with h5py.File(path, "r+") as file:
        file["more"] = h5py.ExternalLink("other.h5", "/")
    before = path.read_bytes()
    with opened_in(tmp_path) as opened:
        capture = open_capture(path)
        capture.channels["DE_X"].volts(0, 50)
        capture.close()
    assert opened == {path.name}
    assert path.read_bytes() == before


def test_a_hard_link_is_fine(tmp_path: Path) -> None:
    path = tmp_path / "hard.h5"
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        file["channels/SAME"] = file["channels/DE_X"]
    capture = open_capture(path)
    assert list(capture.channels) == ["DE_X", "DE_Y", "SAME"]
    capture.close()


def test_no_plugin_folder_is_searched(tmp_path: Path) -> None:
    path = tmp_path / "good.h5"
    good_hdf5(path)
    open_capture(path).close()
    assert h5py.h5pl.size() == 0
