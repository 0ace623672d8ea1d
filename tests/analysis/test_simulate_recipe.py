"""Recipes that are wrong: one clear line with the file's name, the key and the mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.model.errors import InputError
from analysis.simulate.recipe import parse_recipe, read_recipe

GOOD = """
version = 1
duration_s = 1
[speed]
points = [[0, 1500]]
[[plane]]
name = "P"
component = [{ order = 1, forward_um_pp = 20 }]
[[channel]]
probe = "A"
sample_rate_hz = 1000
[setup]
version = 1
[[setup.probe]]
name = "A"
angle_deg = 45
scale_factor_mv_per_um = 7.874
rest_gap_um = 1200
[[setup.probe]]
name = "B"
angle_deg = -45
scale_factor_mv_per_um = 7.874
[[setup.plane]]
name = "P"
probes = ["A", "B"]
"""


def test_the_good_one_is_good() -> None:
    assert parse_recipe(GOOD, "good.toml").channel[0].probe == "A"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("duration_s = 1", 'duration_s = "1"', "duration_s"),
        ("duration_s = 1", "duration_s = true", "duration_s"),
        ("duration_s = 1", "duration_s = nan", "duration_s"),
        ("duration_s = 1", "duration_s = -3", "duration_s"),
        ("duration_s = 1", "duration_s = 1\nduratoin = 2", "duratoin: no such key"),
        ("duration_s = 1", "", "duration_s: is missing"),
        ("version = 1\nduration", "version = 2\nduration", "version"),
        ("[[0, 1500]]", "[[0, 1500], [0, 1600]]", "must rise"),
        ("[[0, 1500]]", "[[0, -5]]", "between 0 and"),
        ("[speed]\npoints = [[0, 1500]]", "", r"\[speed\] is missing"),
        ('probe = "A"', 'probe = "Z"', 'no probe "Z" in the setup'),
        ('probe = "A"', 'probe = "B"', "rest_gap_um"),
        ('name = "P"\ncomp', 'name = "Q"\ncomp', 'no plane "Q"'),
        ("order = 1,", "order = 1, frequency_hz = 3,", "either order"),
        ("order = 1, f", "f", "either order"),
        ("sample_rate_hz = 1000", "sample_rate_hz = 0", r"channel\[1\].sample_rate_hz"),
        (
            "sample_rate_hz = 1000",
            "sample_rate_hz = 1000\ndropped_s = [[0, 1]]",
            "dropped samples are NaN",
        ),
        ('probes = ["A", "B"]', 'probes = ["A", "C"]', '"C"'),
        ("angle_deg = 45", "angle_deg = 45\ncolour = 3", r"setup.probe\[1\].colour"),
        ("angle_deg = -45", "angle_deg = 46", "15"),
        ("duration_s = 1", "duration_s = 1 2", "is no TOML"),
    ],
)
def test_one_line_that_says_where(old: str, new: str, told: str) -> None:
    assert old in GOOD
    with pytest.raises(InputError, match=told) as caught:
        parse_recipe(GOOD.replace(old, new, 1), "bad.toml")
    message = str(caught.value)
    assert message.startswith("bad.toml: ")
    assert "\n" not in message


def test_all_that_is_wrong_is_told_at_once() -> None:
    text = GOOD.replace("duration_s = 1", "duration_s = 0").replace("1000", "-1")
    with pytest.raises(InputError, match=r"duration_s.*sample_rate_hz"):
        parse_recipe(text, "bad.toml")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("duration_s = 1", "duration_s = 1e12", "duration_s"),
        ("duration_s = 1", "duration_s = 600000\n", "more than the"),
        ("sample_rate_hz = 1000", "sample_rate_hz = 1e9", "sample_rate_hz"),
    ],
)
def test_no_recipe_eats_the_machine(old: str, new: str, told: str) -> None:
    text = GOOD.replace(old, new)
    with pytest.raises(InputError, match=told):
        parse_recipe(text, "big.toml")


@pytest.mark.parametrize(
    "content",
    [
        b"\xff\xfe\x00",
        b"",
        b"x = " + b"[" * 5000,
        b"a = " + b"9" * 6000,
        b"[setup]\n" * 3,
        b"\x89HDF\r\n\x1a\n",
        b"# " + b"x" * (1 << 20),
    ],
)
def test_files_that_are_no_recipe(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "strange.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_recipe(path)
    assert "strange.toml" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 2500


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "absent.toml", tmp_path / "nul\0.toml"):
        with pytest.raises(InputError):
            read_recipe(path)
