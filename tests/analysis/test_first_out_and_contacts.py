"""Which limit was first, and what a meter across a relay's contact would read."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.setup import Relay
from analysis.protection.contacts import (
    ASSUMED_RELAYS,
    contact_closed,
    relays_assumed,
    relays_of,
)
from analysis.protection.replay import replay
from tests.analysis.alarm_captures import made_series, setup_with


def limit(probe: str, level: str = "alarm", above: float = 100.0, **more: object):
    return {
        "probes": [probe],
        "measure": "peak_to_peak",
        "level": level,
        "above": above,
        **more,
    }


def levels(ticks: int, *stretches: tuple[int, int]) -> np.ndarray:
    """30 µm, and 150 µm in these stretches of ticks."""
    out = np.full(ticks, 30.0)
    for begin, end in stretches:
        out[begin:end] = 150.0
    return out


def ranks(result, level="alarm"):
    return [(e.index, e.first_out) for e in result.events if e.event == "set" and e.level == level]


def test_first_out_counts_from_when_all_of_a_level_were_clear():
    series = made_series(
        200,
        {
            "X": levels(200, (10, 60), (70, 80), (120, 130)),
            "Y": levels(200, (20, 90), (110, 150)),
        },
    )
    setup = setup_with(limit("X"), limit("Y"), limit("X", "trip", 140.0, latching=True))
    result = replay(series, setup)
    # X first, Y second, X once more while Y is still set: it keeps its rank. Then all are clear.
    assert ranks(result) == [(0, 1), (1, 2), (0, 1), (1, 1), (0, 2)]
    # The trip is latched from the first time on, and has a ranking of its own.
    assert ranks(result, "trip") == [(2, 1)]
    assert all(e.first_out is None for e in result.events if e.event != "set")


def test_those_of_one_tick_share_their_rank():
    series = made_series(50, {"X": levels(50, (10, 30)), "Y": levels(50, (10, 30))})
    setup = setup_with(limit("Y"), limit("X"), limit("X", above=120.0, delay_s=0.1))
    assert ranks(replay(series, setup)) == [(0, 1), (1, 1), (2, 3)]


def test_a_latch_that_holds_is_not_clear():
    series = made_series(90, {"X": levels(90, (10, 20)), "Y": levels(90, (40, 50), (70, 80))})
    latched = setup_with(limit("X", latching=True), limit("Y"))
    assert ranks(replay(series, latched)) == [(0, 1), (1, 2), (1, 2)]
    assert ranks(replay(series, latched, resets_s=[6.0])) == [(0, 1), (1, 2), (1, 1)]


@pytest.mark.parametrize(
    ("contact", "energised", "quiet", "acting"),
    [
        # A normally open contact is closed exactly while the coil is energised.
        ("normally_open", "acting", False, True),
        ("normally_open", "healthy", True, False),
        ("normally_closed", "acting", True, False),
        ("normally_closed", "healthy", False, True),
    ],
)
def test_contacts(contact, energised, quiet, acting):
    relay = Relay(name="R", driven_by="trip", contact=contact, energised=energised)
    assert contact_closed(relay, active=False) == (energised == "healthy", quiet)
    assert contact_closed(relay, active=True) == (energised == "acting", acting)
    series = made_series(100, {"X": levels(100, (20, 60))})
    setup = setup_with(
        limit("X", "trip", delay_s=1.0), limit("X", above=40.0), relay=[relay.model_dump()]
    )
    runs = replay(series, setup).relays["R"]
    edges = [(run.start_s, run.closed, run.active) for run in runs]
    assert edges == [
        (pytest.approx(0.1), quiet, False),
        (pytest.approx(3.1), acting, True),
        (pytest.approx(7.1), quiet, False),
    ]
    assert runs[-1].end_s == pytest.approx(10.0)


def test_relays_without_any_in_the_setup_are_assumed():
    setup = setup_with(limit("X"))
    assert relays_of(setup) == ASSUMED_RELAYS
    assert relays_assumed(setup)
    assert [(r.name, r.driven_by, r.contact, r.energised) for r in ASSUMED_RELAYS] == [
        ("ALARM", "alarm", "normally_open", "acting"),
        ("TRIP", "trip", "normally_open", "acting"),
    ]
    own = setup_with(limit("X"), relay=[{"name": "K1", "driven_by": "alarm"}])
    assert [relay.name for relay in relays_of(own)] == ["K1"]
    assert not relays_assumed(own)


def test_a_contact_changes_once_while_limits_overlap_and_follows_its_own_probes():
    fault = np.zeros(100, dtype=bool)
    fault[80:85] = True
    series = made_series(
        100, {"X": levels(100, (10, 40)), "Y": levels(100, (30, 60))}, fault={"Y": fault}
    )
    relays = [
        {"name": "any", "driven_by": "alarm"},
        {"name": "only Y", "driven_by": "alarm", "probes": ["Y"]},
        {"name": "fault", "driven_by": "fault"},
        {"name": "fault X", "driven_by": "fault", "probes": ["X"]},
        {"name": "trip", "driven_by": "trip"},
    ]
    result = replay(series, setup_with(limit("X"), limit("Y"), relay=relays))
    acting = {
        name: [(run.start_s, run.end_s) for run in runs if run.active]
        for name, runs in result.relays.items()
    }
    assert acting["any"] == [(pytest.approx(1.1), pytest.approx(6.1))]
    assert acting["only Y"] == [(pytest.approx(3.1), pytest.approx(6.1))]
    assert acting["fault"] == [(pytest.approx(8.1), pytest.approx(8.6))]
    assert acting["fault X"] == acting["trip"] == []


def test_a_reset_opens_the_contact_at_its_own_time():
    series = made_series(100, {"X": levels(100, (10, 40))})
    setup = setup_with(limit("X", "trip", latching=True))
    runs = replay(series, setup, resets_s=[7.77]).relays["TRIP"]
    assert [run.start_s for run in runs] == [pytest.approx(0.1), pytest.approx(1.1), 7.77]
