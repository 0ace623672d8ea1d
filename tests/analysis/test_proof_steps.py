"""The written steps of a proof test: what they ask for, and what they promise."""

from __future__ import annotations

import re
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.model.proof import ExpectedReading, ProofStep
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from analysis.protection.proof_test import PROOF_CAUTIONS, proof_steps, reading_agrees
from analysis.protection.proof_words import CLOSED, OPEN

from .proof_capture import ALARM, PROBE, TRIP, limit, setup_with, thrust_setup

SETUP = setup_with(ALARM, TRIP)
# What the trade expects of each step: common practice.
SET_AT = {
    "start": "clear",
    "near": "clear",
    "one_short": "clear",
    "burst": "clear",
    "beyond": "set",
    "fault_vote": "set",
    "reset_present": "set",
    "reset": "clear",
}


def of(steps: tuple[ProofStep, ...], kind: str, index: int | None) -> ProofStep:
    (found,) = [step for step in steps if step.kind == kind and step.index == index]
    return found


def reading(step: ProofStep, where: str) -> ExpectedReading:
    (found,) = [each for each in step.expected if each.where.startswith(where)]
    return found


def test_order_and_kinds() -> None:
    steps = proof_steps(SETUP)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    kinds = [[s.kind for s in group] for _, group in groupby(steps, key=lambda step: step.group)]
    assert kinds == [
        ["prepare"],
        ["start", "near", "burst", "beyond", "back"],
        ["start", "near", "burst", "beyond", "reset_present", "back", "reset"],
        ["start", "fault", "restore"],
        ["finish"],
    ]


def test_values_lie_on_the_side_that_the_step_is_about() -> None:
    steps = proof_steps(SETUP)
    (beyond,), (near,) = of(steps, "beyond", 1).applied, of(steps, "near", 1).applied
    assert near.peak_to_peak_um < 125.0 < beyond.peak_to_peak_um
    # 7.874 mV/µm, and the whole p-p of it.
    assert beyond.peak_to_peak_mv == pytest.approx(7.874 * beyond.peak_to_peak_um)
    assert beyond.gap_um == 1250.0
    assert beyond.gap_v == pytest.approx(-7.874e-3 * 1250.0)


def test_holds_are_longer_than_every_delay() -> None:
    setup = setup_with(ALARM | {"delay_s": 5.0}, TRIP)
    for step in proof_steps(setup, [1]):
        if step.kind == "burst":
            assert step.hold_s is not None
            assert 0.0 < step.hold_s < 1.0
        elif step.kind == "beyond":
            assert step.hold_s is not None
            assert step.hold_s > 5.0


def test_a_delay_too_short_for_a_hand_has_no_burst() -> None:
    kinds = {step.kind for step in proof_steps(setup_with(TRIP | {"delay_s": 0.3}))}
    assert "burst" not in kinds
    assert "beyond" in kinds


def test_relays_before_and_after() -> None:
    """The trip is tried above the alarm: the alarm's contact is closed all the while."""
    steps = proof_steps(SETUP)
    beyond = of(steps, "beyond", 1)
    assert reading(beyond, "relay TRIP").text == CLOSED
    assert "was open" in reading(beyond, "relay TRIP").where
    assert reading(beyond, "relay ALARM").text == CLOSED
    assert "unchanged" in reading(beyond, "relay ALARM").where
    back = of(steps, "back", 1)
    assert reading(back, "relay TRIP").text == CLOSED, "the latch holds the contact"
    assert reading(back, "relay ALARM").text == OPEN
    assert reading(of(steps, "reset", 1), "relay TRIP").text == OPEN
    assert "assumed" in steps[0].do


def test_a_relay_of_the_setup_that_is_energised_when_healthy() -> None:
    relays = [
        {
            "name": "K1",
            "driven_by": "trip",
            "contact": "normally_open",
            "energised": "healthy",
        },
        {"name": "K9", "driven_by": "fault"},
    ]
    steps = proof_steps(setup_with(TRIP, relay=relays))
    assert reading(of(steps, "start", 0), "relay K1").text == CLOSED
    assert reading(of(steps, "beyond", 0), "relay K1").text == OPEN
    assert "assumed" not in steps[0].do
    fault = of(steps, "fault", None)
    assert reading(fault, "relay K9").text == CLOSED
    assert reading(fault, "relay K1").text == CLOSED, "a circuit fault alone trips nothing"
    assert reading(of(steps, "restore", None), "relay K9").text == OPEN


def test_an_open_cable() -> None:
    step = of(proof_steps(SETUP), "fault", None)
    assert reading(step, "circuit fault").text == "indicated"
    assert reading(step, "p-p limits").text == "none acts"
    for each in step.expected:
        if each.unit == "mA":
            assert each.value == 3.6


def test_thrust_needs_all_its_probes() -> None:
    setup = thrust_setup()
    steps = proof_steps(setup)
    short = next(step for step in steps if step.kind == "one_short")
    assert reading(short, "limit 1, trip").text == "clear"
    voted = next(step for step in steps if step.kind == "fault_vote")
    assert reading(voted, "limit 1, trip").text == "set"
    assert [each.open_circuit for each in voted.applied] == [True, False]
    assert proof_steps(setup, probe="THR-A") == ()


def test_one_probe_or_all() -> None:
    other = PROBE | {"name": "DE-Y", "channel": "DE_Y"}
    both = TRIP | {"probes": ["DE-X", "DE-Y"]}
    setup = setup_with(both, probe=[PROBE, other])
    tried = [step.probes for step in proof_steps(setup) if step.kind == "beyond"]
    assert tried == [("DE-X",), ("DE-Y",)], "each probe must trip by itself"
    tried = [step.probes for step in proof_steps(setup, probe="DE-Y") if step.kind == "beyond"]
    assert tried == [("DE-Y",)]


def test_a_region_of_1x() -> None:
    vector = limit("trip", "1x_vector", region={"amplitude_um": [20.0, 60.0], "lag_deg": [30, 90]})
    steps = proof_steps(setup_with({k: v for k, v in vector.items()}))
    assert "phase reference" in steps[0].do
    beyond = of(steps, "beyond", 0)
    assert beyond.side == "outside"
    assert beyond.applied[0].peak_to_peak_um > 60.0
    assert reading(beyond, "limit 1, trip").text == "set"
    assert reading(of(steps, "back", 0), "limit 1, trip").text == "held by the latch"


def test_other_units_are_words_only() -> None:
    um, mil = proof_steps(SETUP), proof_steps(SETUP, unit=LengthUnit.MIL)
    assert [step.applied for step in um] == [step.applied for step in mil]
    texts = " ".join(step.do for step in mil)
    assert "4.92 mil" in texts
    assert not re.search(r"\d µm", texts)


def test_what_leaves_the_linear_range_is_told() -> None:
    """Rest gap 1250 of 250 to 2280 µm: 2000 µm p-p can be applied about it, 2100 cannot."""
    for above, told in ((1900.0, False), (2000.0, True)):
        beyond = of(proof_steps(setup_with(TRIP | {"above": above})), "beyond", 0)
        assert ("leaves the linear range" in beyond.do) is told


def test_cautions_are_there() -> None:
    text = " ".join(PROOF_CAUTIONS) + " ".join(step.do for step in proof_steps(SETUP))
    for word in ("authority", "permit", "time limit", "taken off", "azardous", "turning shafts"):
        assert word in text, word
    last = proof_steps(SETUP)[-1]
    assert "bypass" in last.do


def test_no_limits_no_steps() -> None:
    assert proof_steps(Setup.model_validate({"probe": [PROBE]})) == ()
    with pytest.raises(IndexError):
        proof_steps(SETUP, [7])


@settings(deadline=None, max_examples=60)
@given(
    measure=st.sampled_from(["peak_to_peak", "position", "1x"]),
    level_um=st.floats(1350.0, 2000.0),
    share=st.floats(0.02, 0.1),
    delay=st.integers(0, 60),
    latching=st.booleans(),
    hysteresis=st.floats(0.0, 8.0),
    below=st.booleans(),
)
def test_the_settings_do_what_each_step_is_for(
    measure: str,
    level_um: float,
    share: float,
    delay: int,
    latching: bool,
    hysteresis: float,
    below: bool,
) -> None:
    """Whatever is set: every step's expected state is the one that its kind stands for."""
    level = level_um if measure == "position" else level_um * share
    side = {"below": 2500.0 - level} if below and measure == "position" else {"above": level}
    setup = setup_with(
        limit(
            "trip",
            measure,
            **side,
            delay_s=delay / 10.0,
            latching=latching,
            hysteresis_um=hysteresis if measure == "position" else hysteresis / 2.0,
        )
    )
    seen = set()
    for step in proof_steps(setup):
        if step.index is None:
            continue
        seen.add(step.kind)
        expected = SET_AT.get(step.kind) or ("held by the latch" if latching else "clear")
        assert reading(step, "limit 1, trip").text == expected, step.kind
        closed = expected != "clear"
        assert reading(step, "relay TRIP").text == (CLOSED if closed else OPEN)
    assert {"start", "near", "beyond", "back"} <= seen
    assert ("reset" in seen) is latching
    assert ("burst" in seen) is (delay >= 5)


LOOP = ExpectedReading("loop DE-X p-p", "12.00 mA", 12.0, "mA", 0.16)


@pytest.mark.parametrize(
    ("read", "agrees"),
    [
        ("12", True),
        ("12,1 mA", True),
        ("12.16", True),
        ("12.17", False),
        ("3.00 V", True),
        ("3.1V", False),
        ("", None),
        ("about twelve", None),
    ],
)
def test_a_number_that_was_read(read: str, agrees: bool | None) -> None:
    assert reading_agrees(LOOP, read) is agrees


def test_a_word_that_was_read() -> None:
    contact = ExpectedReading("relay TRIP", CLOSED, choices=(CLOSED, OPEN))
    assert reading_agrees(contact, CLOSED) is True
    assert reading_agrees(contact, OPEN) is False
    assert reading_agrees(contact, " ") is None
