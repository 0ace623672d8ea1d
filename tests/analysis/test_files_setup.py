"""Setups: the contract's own example, warnings, and saving that keeps what a reader wrote."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.files.setup_checks import angle_between_deg, check_against_capture
from analysis.files.setup_find import find_setup
from analysis.files.setup_lines import key_lines
from analysis.files.setup_read import parse_setup, read_setup
from analysis.files.setup_write import setup_to_toml, updated_toml, write_setup
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.errors import InputError, SetupError
from analysis.model.setup import Limit, Machine, Multiplier, Output, Plane, Probe, Setup
from tests.analysis.good_files import GOOD_SETUP

WHOLE = """\
# P-204, as found
version = 1

[machine]
title = "Brine pump P-204"
rotation = "ccw"                 # seen from the driver end
operating_rpm = [4700, 5300]

[phase_reference]                # one notch
channel = "REF"
edge = "falling"
events_per_turn = 1
threshold_v = -9.0
hysteresis_v = 0.5

[[probe]]                        # the first
name = "DE-X"
channel = "DE_X"
angle_deg = 45.0
kind = "radial"
scale_factor_mv_per_um = 7.874
point = { gap_um = 1250, volts = -9.84 }        # a known point
linear_range_um = [250, 2280]
rest_gap_um = 1310
fault_v = [-22.0, -0.5]

[[probe]]
name = "DE-Y"
angle_deg = -45
scale_factor_mv_per_mil = 200
calibration = [[250, -1.97], [500, -3.94],
    [750, -5.91]]

[[plane]]
name = "Drive end"
probes = ["DE-X", "DE-Y"]        # a pair
clearance_um = 240
rest = "bottom"

[[limit]]
probes = ["DE-X"]
measure = "peak_to_peak"
level = "alarm"
above = 95.0                     # agreed in March
delay_s = 2.0
latching = false
hysteresis_um = 0.0
votes = 1
multiplier = { factor = 2.0, rpm = [2600, 3600] }

[[output]]
probe = "DE-X"
measure = "peak_to_peak"
range_um = [0, 200]
"""


def _setup() -> Setup:
    setup, warnings = parse_setup(WHOLE, "whole.toml")
    assert warnings == ()
    return setup


def test_the_contracts_example_is_read() -> None:
    setup = _setup()
    assert setup.machine.rotation == "ccw"
    assert setup.phase_reference is not None
    assert setup.phase_reference.threshold_v == -9.0
    assert setup.probe[0].point.volts == -9.84
    # The channel's default is the name; 200 mV/mil is 200/25.4 mV/µm (inch of 25.4 mm, exactly).
    assert setup.probe[1].channel == "DE-Y"
    assert setup.probe[1].scale_factor_v_per_um == pytest.approx(0.2 / 25.4)
    assert setup.limit[0].multiplier == Multiplier(factor=2.0, rpm=(2600.0, 3600.0))
    assert setup.output[0].range_um == (0.0, 200.0)


def test_an_unchanged_setup_is_saved_as_it_stands() -> None:
    assert updated_toml(WHOLE, _setup()) == WHOLE


def test_changes_touch_only_their_own_lines() -> None:
    setup = _setup()
    limit = setup.limit[0].model_copy(update={"above": 97.5, "latching": True})
    changed = setup.model_copy(update={"limit": (limit,)})
    text = updated_toml(WHOLE, changed)
    lines = zip(WHOLE.splitlines(), text.splitlines(), strict=True)
    differ = [new for old, new in lines if old != new]
    assert differ == ["above = 97.5                     # agreed in March", "latching = true"]


def test_tables_can_be_added_removed_and_moved() -> None:
    setup = _setup()
    trip = Limit(probes=("DE-X",), measure="peak_to_peak", level="trip", above=200.0)
    changed = setup.model_copy(
        update={
            "probe": setup.probe[::-1],
            "plane": (),
            "limit": (*setup.limit, trip),
            "phase_reference": None,
        }
    )
    text = updated_toml(WHOLE, changed)
    assert parse_setup(text, "changed")[0] == changed
    assert text.index('"DE-Y"') < text.index('"DE-X"')
    for comment in ("as found", "the first", "a known point", "agreed in March"):
        assert comment in text
    assert "a pair" not in text


def test_writing_keeps_comments_and_the_file_on_failure(tmp_path: Path) -> None:
    path = tmp_path / "setup.toml"
    path.write_text(WHOLE, encoding="utf-8")
    setup = _setup()
    write_setup(path, setup.model_copy(update={"machine": Machine(title="P-205")}))
    text = path.read_text(encoding="utf-8")
    assert "agreed in March" in text
    assert read_setup(path)[0].machine.title == "P-205"
    path.write_text("[machine\n", encoding="utf-8")
    with pytest.raises(InputError):
        write_setup(path, setup)
    assert path.read_text(encoding="utf-8") == "[machine\n"
    assert [file.name for file in tmp_path.iterdir()] == ["setup.toml"]
    write_setup(tmp_path / "fresh.toml", setup)
    assert read_setup(tmp_path / "fresh.toml")[0] == setup


def test_a_setup_written_inline_is_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "inline.toml"
    path.write_text('version = 1\nprobe = [{name = "A", scale_factor_mv_per_um = 8}]\n')
    setup, _ = read_setup(path)
    changed = setup.model_copy(update={"machine": Machine(title="P-204")})
    write_setup(path, changed)
    assert read_setup(path)[0] == changed


def test_line_numbers_through_strings_and_nested_values() -> None:
    text = (
        'a = """\n[not.a]\nb = 1\n"""\n'  # 1 to 4
        "c = [1, # ]\n  2,\n]\n"  # 5 to 7
        '[t."x y".z]\nk = "]" # =\n'  # 8, 9
        "[[p]]\n[p.q]\nr = 1\n[[p]]\ns.t = { u = '''\n''' }\nv = 2\n"  # 10 to 16
    )
    lines = key_lines(text)
    assert lines["a",] == 1
    assert lines["c",] == 5
    assert lines["t", "x y", "z", "k"] == 9
    assert lines["p", 0, "q", "r"] == 12
    assert lines["p", 1] == 13
    assert lines["p", 1, "s", "t"] == 14
    assert lines["p", 1, "v"] == 16
    assert ("b",) not in lines


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("rest_gap_um = 1310", "rest_gap_um = 2500"), "outside the linear range"),
        (("{ gap_um = 1250, volts = -9.84 }", "{ gap_um = 5, volts = 0 }"), "outside the linear"),
        (("mv_per_um = 7.874", "mv_per_um = 200"), "scale_factor_mv_per_mil = 200"),
        (("mv_per_mil = 200", "mv_per_mil = 7.874"), "scale_factor_mv_per_um = 7.874"),
        (("[-22.0, -0.5]", "[-12.0, -0.5]"), "reads as a circuit fault"),
        (("above = 95.0", "above = 3000"), "more than the whole linear range"),
        (('measure = "peak_to_peak"\nlevel', 'measure = "position"\nlevel'), "outside the linear"),
        (('channel = "DE_X"', 'channel = "REF"'), "also that of"),
    ],
)
def test_what_is_unlikely_is_a_warning(change: tuple[str, str], words: str) -> None:
    assert change[0] in WHOLE
    _, warnings = parse_setup(WHOLE.replace(*change), "w.toml")
    assert any(words in str(warning) and warning.line for warning in warnings), warnings


def _limits(*rows: tuple[str, str]) -> str:
    text = GOOD_SETUP
    for level, keys in rows:
        text += f'\n[[limit]]\nprobes = ["DE-X"]\nmeasure = "position"\nlevel = "{level}"\n{keys}\n'
    return text


@pytest.mark.parametrize(
    ("rows", "severity"),
    [
        ([("alarm", "above = 100"), ("trip", "above = 150")], None),
        ([("alarm", "below = 100"), ("trip", "below = 50")], None),
        ([("alarm", "above = 100"), ("trip", "below = 50")], None),
        ([("alarm", "above = 160"), ("trip", "above = 150")], "error"),
        ([("alarm", "below = 40"), ("trip", "below = 50")], "error"),
        ([("alarm", "above = 150"), ("trip", "above = 150")], "warning"),
        # Two alarms, the second beyond the trip: unlikely, yet the first still warns.
        ([("alarm", "above = 90"), ("alarm", "above = 160"), ("trip", "above = 150")], "warning"),
        (
            [("alarm", "above = 90\nmultiplier = { factor = 2.0, rpm = [1, 2] }"),
             ("trip", "above = 150")],
            "warning",
        ),
        (
            [("alarm", "above = 90\nmultiplier = { factor = 2.0, rpm = [1, 2] }"),
             ("trip", "above = 150\nmultiplier = { factor = 2.0, rpm = [1, 2] }")],
            None,
        ),
    ],
)  # fmt: skip
def test_alarms_beyond_trips(rows: list[tuple[str, str]], severity: str | None) -> None:
    if severity == "error":
        with pytest.raises(SetupError, match="beyond"):
            parse_setup(_limits(*rows), "l.toml")
    else:
        _, warnings = parse_setup(_limits(*rows), "l.toml")
        assert [warning.severity for warning in warnings] == ([severity] if severity else [])


def test_a_fault_in_a_table_does_not_hide_a_rule_between_its_other_keys() -> None:
    text = GOOD_SETUP.replace(
        "scale_factor_mv_per_um = 7.874",
        "scale_factor_mv_per_um = 7.874\nscale_factor_mv_per_mil = 200\nkind = 3",
        1,
    )
    with pytest.raises(SetupError) as caught:
        parse_setup(text, "two.toml")
    told = str(caught.value)
    assert "not both" in told
    assert "kind" in told
    assert len(caught.value.issues) == 2


@pytest.mark.parametrize(
    ("one", "two", "apart"),
    [(45, -45, 90), (0, 180, 0), (10, -175, 5), (350, 5, 15), (0, 105, 75), (-90, 270, 0)],
)
def test_angle_between(one: float, two: float, apart: float) -> None:
    assert angle_between_deg(one, two) == pytest.approx(apart)


def _capture(*names: str, **keywords) -> Capture:
    values = ArraySource(np.zeros(5))
    return Capture("c.h5", {name: Channel(name, 10.0, values) for name in names}, **keywords)


def test_channels_that_the_capture_has_not() -> None:
    setup = _setup()
    assert check_against_capture(setup, _capture("DE_X", "DE-Y", "REF")) == ()
    issues = check_against_capture(setup, _capture("DE_X", "DE_Y"))
    assert [issue.where for issue in issues] == ["probe DE-Y, channel", "phase_reference, channel"]
    assert "did you mean 'DE_Y'" in issues[0].message


def test_where_a_setup_is_looked_for(tmp_path: Path) -> None:
    path = tmp_path / "run.h5"
    assert find_setup(_capture("A", path=path)) is None
    (tmp_path / "setup.toml").write_text("version = 1\n# folder")
    found = find_setup(_capture("A", path=path))
    assert found is not None
    assert (found.source, found.path) == ("setup.toml", tmp_path / "setup.toml")
    (tmp_path / "run.toml").write_text("version = 1\n# own")
    found = find_setup(_capture("A", path=path))
    assert found is not None
    assert found.text.endswith("own")
    found = find_setup(_capture("A", path=path, setup_toml="inside"))
    assert found is not None
    assert (found.text, found.path) == ("inside", None)


NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=8).filter(
    lambda name: bool(name.strip())
)
NUMBERS = st.floats(-1e5, 1e5)
RANGES = st.tuples(NUMBERS, NUMBERS).filter(lambda pair: pair[0] < pair[1])


@st.composite
def setups(draw) -> Setup:
    names = draw(st.lists(NAMES, min_size=2, max_size=4, unique=True))
    probes = tuple(
        Probe(
            name=name,
            channel=draw(st.just(name) | NAMES),
            angle_deg=50.0 * number,
            scale_factor_mv_per_um=draw(st.floats(0.1, 100)),
            rest_gap_um=draw(st.none() | NUMBERS),
            linear_range_um=draw(st.none() | RANGES),
            fault_v=draw(st.none() | RANGES),
        )
        for number, name in enumerate(names)
    )
    return Setup(
        machine=Machine(title=draw(st.text(max_size=8)), operating_rpm=draw(st.none() | RANGES)),
        probe=probes,
        plane=(Plane(name=draw(NAMES), probes=(names[0], names[1])),)
        if draw(st.booleans())
        else (),
        limit=tuple(
            Limit(
                probes=(name,),
                measure="peak_to_peak",
                level="trip",
                above=draw(st.floats(1, 500)),
                latching=draw(st.booleans()),
                multiplier=draw(
                    st.none() | st.builds(Multiplier, factor=st.floats(1, 3), rpm=RANGES)
                ),
            )
            for name in draw(st.lists(st.sampled_from(names), max_size=3))
        ),
        output=(Output(probe=names[0], measure="1x", range_um=(0.0, draw(st.floats(1, 9)))),),
    )


@settings(max_examples=60, deadline=None)
@given(setup=setups(), other=setups())
def test_round_trip_and_in_place(setup: Setup, other: Setup) -> None:
    text = setup_to_toml(setup)
    assert parse_setup(text, "made")[0] == setup
    assert updated_toml(text, setup) == text
    assert parse_setup(updated_toml(text, other), "changed")[0] == other
