"""Regions of 1X and relays in a setup: read, checked, and saved with what a reader wrote."""

from __future__ import annotations

import pytest

from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import setup_to_toml, updated_toml
from analysis.model.errors import SetupError
from analysis.model.setup import Region, Relay, Setup

HEAD = """\
version = 1

[machine]
title = "P-204"

[phase_reference]
channel = "REF"

[[probe]]
name = "DE-X"
scale_factor_mv_per_um = 7.874
linear_range_um = [250, 2280]

[[probe]]
name = "DE-Y"
scale_factor_mv_per_um = 7.874
"""
REGION = """
[[limit]]                        # where 1X belongs
probes = ["DE-X"]
measure = "1x_vector"
level = "alarm"
region = { amplitude_um = [10, 60], lag_deg = [330, 40] }   # over 360
delay_s = 2.0
"""
TRIP = """
[[limit]]
probes = ["DE-X", "DE-Y"]
measure = "peak_to_peak"
level = "trip"
above = 120
latching = true
"""
RELAYS = """
[[relay]]                        # drawing E-17
name = "K1"
driven_by = "trip"
contact = "normally_closed"
energised = "healthy"            # falls off on a trip

[[relay]]
name = "K2"
driven_by = "alarm"
probes = ["DE-X"]
"""
WHOLE = HEAD + REGION + TRIP + RELAYS


def faults(text: str) -> list[str]:
    with pytest.raises(SetupError) as told:
        parse_setup(text, "made.toml")
    return [str(issue) for issue in told.value.issues]


def warnings(text: str) -> list[str]:
    return [str(issue) for issue in parse_setup(text, "made.toml")[1]]


def test_regions_and_relays_are_read() -> None:
    setup, told = parse_setup(WHOLE, "made.toml")
    assert told == ()
    assert setup.limit[0].region == Region(amplitude_um=(10.0, 60.0), lag_deg=(330.0, 40.0))
    assert setup.relay == (
        Relay(name="K1", driven_by="trip", contact="normally_closed", energised="healthy"),
        Relay(name="K2", driven_by="alarm", probes=("DE-X",)),
    )
    # What is left out: a contact that closes, a coil that is energised, while something acts.
    assert (setup.relay[1].contact, setup.relay[1].energised) == ("normally_open", "acting")


def test_they_survive_saving_with_comments_and_order() -> None:
    setup = parse_setup(WHOLE, "made.toml")[0]
    assert updated_toml(WHOLE, setup) == WHOLE
    assert parse_setup(setup_to_toml(setup), "fresh.toml")[0] == setup
    wider = Region(amplitude_um=(10.0, 70.0), lag_deg=(330.0, 50.0))
    changed = setup.model_copy(
        update={
            "limit": (setup.limit[0].model_copy(update={"region": wider}), setup.limit[1]),
            "relay": (
                setup.relay[0].model_copy(update={"contact": "normally_open"}),
                Relay(name="K3", driven_by="fault"),
            ),
        }
    )
    text = updated_toml(WHOLE, changed)
    assert parse_setup(text, "changed.toml")[0] == changed
    for comment in ("where 1X belongs", "over 360", "drawing E-17", "falls off on a trip"):
        assert comment in text
    assert "K2" not in text
    without = updated_toml(WHOLE, changed.model_copy(update={"relay": ()}))
    assert "relay" not in without


def test_a_fresh_setup_spells_the_contact_out() -> None:
    setup = Setup(relay=(Relay(name="K1", driven_by="trip"),))
    text = setup_to_toml(setup)
    assert 'contact = "normally_open"' in text
    assert 'energised = "acting"' in text


@pytest.mark.parametrize(
    ("old", "new", "where", "words"),
    [
        ("region = {", "above = 5\nregion = {", "limit 1", "a region and neither above nor below"),
        ('"1x_vector"', '"1x"', "limit 1", 'a region belongs to the measure "1x_vector"'),
        (
            "region = { amplitude_um = [10, 60], lag_deg = [330, 40] }",
            "",
            "limit 1",
            "a 1x_vector limit needs a region, such as region = { amplitude_um",
        ),
        (
            "delay_s = 2.0",
            "multiplier = { factor = 2.0, rpm = [1, 2] }",
            "limit 1",
            "takes no multiplier",
        ),
        ("[10, 60]", "[60, 10]", "region.amplitude_um", "must be below the second"),
        ("[10, 60]", "[-10, 60]", "region.amplitude_um[1]", "must be 0 or more"),
        ("[330, 40]", "[40, 40]", "limit 1, region", "any lag is [0, 360]"),
        ("[330, 40]", "[330, 400]", "region.lag_deg[2]", "must be 360 or less"),
        ("delay_s", "delai_s", "limit 1, delai_s", "did you mean 'delay_s'?"),
        ('driven_by = "trip"', 'driven_by = "danger"', "relay K1, driven_by", '"alarm", "trip"'),
        ('"normally_closed"', '"closed"', "relay K1, contact", '"normally_open"'),
        ('"healthy" ', '"always" ', "relay K1, energised", '"healthy" or "acting"'),
        ('name = "K2"', 'name = "K1"', "relay K1, name", "stands twice"),
        ('driven_by = "alarm"\nprobes = ["DE-X"]', 'probes = ["DE-X"]', "driven_by", "is missing"),
        ('alarm"\nprobes = ["DE-X"]', 'alarm"\nprobes = ["DE-Z"]', "relay K2", "DE-Z"),
        ('alarm"\nprobes = ["DE-X"]', 'alarm"\nprobes = ["DE-X", "DE-X"]', "K2", "stands twice"),
        ("[[relay]]  ", "[relay]\n#", "relay", "[[relay]]"),
    ],
)
def test_faults_say_where_and_how_to_mend(old: str, new: str, where: str, words: str) -> None:
    assert old in WHOLE
    text = WHOLE.replace(old, new, 1)
    if new.startswith("[relay]"):
        text = text[: text.rindex("[[relay]]")]
    told = faults(text)
    assert len(told) == 1, told
    assert where in told[0]
    assert words in told[0]
    assert told[0].startswith("line ")


def test_all_faults_are_told_at_once() -> None:
    text = WHOLE.replace("[10, 60]", "[60, 10]").replace('"trip"\ncontact', '"x"\ncontact')
    assert len(faults(text)) == 2


def test_what_is_seldom_meant_is_a_warning() -> None:
    no_reference = WHOLE.replace('[phase_reference]\nchannel = "REF"\n', "")
    assert any("cannot be judged" in told for told in warnings(no_reference))
    assert any("whole linear range" in t for t in warnings(WHOLE.replace("[10, 60]", "[10, 3000]")))
    nothing = WHOLE.replace('driven_by = "alarm"\nprobes = ["DE-X"]', 'driven_by = "alarm"\n'
                            'probes = ["DE-Y"]')  # fmt: skip
    assert any("no alarm limit drives it" in told for told in warnings(nothing))
    trip = REGION.replace('"alarm"', '"trip"')
    inside = trip.replace("[10, 60]", "[5, 90]").replace("[330, 40]", "[300, 60]")
    assert warnings(WHOLE + inside) == []
    for narrower in (trip.replace("[10, 60]", "[15, 90]"), trip.replace("[330, 40]", "[340, 60]")):
        assert any("beyond its trip region" in told for told in warnings(WHOLE + narrower))
