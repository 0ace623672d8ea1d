"""The Lab's numbers, one by one, and the model that holds them."""

from __future__ import annotations

import pytest

from analysis.simulate.lab_state import ORDERS, LabState, Precession
from analysis.simulate.rotor_model import Rotor
from app.session import lab_fields
from app.session.lab_clock import LabClock
from app.session.lab_model import LabModel
from app.session.rotor_fields import ROTOR_FIELDS

FIELDS = [
    *(field for order in ORDERS for field in lab_fields.order_fields(order)),
    *lab_fields.whirl_fields(),
    *lab_fields.PRELOAD_FIELDS,
    *lab_fields.STOP_FIELDS,
    *lab_fields.ASYMMETRY_FIELDS,
    *lab_fields.SURFACE_FIELDS,
    *(field for place in (0, 1) for field in lab_fields.probe_fields(place)),
    lab_fields.SPEED_FIELD,
    lab_fields.CLEARANCE_FIELD,
]


def middle(field):
    # The two probes must not look along one line.
    share = 0.45 if field.key == "probe1.angle_deg" else 0.7
    return field.least + share * (field.most - field.least)


class TestFields:
    @pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.key)
    def test_what_is_put_is_what_is_there(self, field):
        state = field.put(LabState(), middle(field))
        assert field.get(state) == pytest.approx(middle(field))

    @pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.key)
    def test_it_changes_nothing_else(self, field):
        before = LabState()
        after = field.put(before, middle(field))
        for other in FIELDS:
            if other.key != field.key:
                assert other.get(after) == other.get(before), other.key

    def test_every_number_of_the_state_can_be_reached(self):
        """A state that differs from the first one in every number, put together from fields."""
        state = LabState()
        for field in FIELDS:
            state = field.put(state, middle(field))
        plain = {"swapped", "rotation", "rotation_wrong", "seed", "title"}
        for name in LabState.__dataclass_fields__:
            assert name in plain or getattr(state, name) != getattr(LabState(), name), name

    def test_ends_of_a_slider_can_be_had(self):
        for field in FIELDS:
            for value in (field.least, field.most):
                if not field.key.endswith("angle_deg"):  # those two must not be parallel
                    assert field.get(field.put(LabState(), value)) == pytest.approx(value)

    @pytest.mark.parametrize(
        "field", [f for _, group in ROTOR_FIELDS for f in group], ids=lambda field: field.key
    )
    def test_the_rotors_as_well(self, field):
        rotor = field.put(Rotor(), middle(field))
        assert field.get(rotor) == pytest.approx(middle(field))
        for _, group in ROTOR_FIELDS:
            for other in group:
                if other.key != field.key:
                    assert other.get(rotor) == pytest.approx(other.get(Rotor()))


class TestModel:
    def test_a_state_that_cannot_be_is_refused_in_a_sentence(self, qtbot):
        model = LabModel()
        angle = lab_fields.probe_fields(0)[0]
        before = model.state
        with qtbot.waitSignals([model.refused, model.changed]):
            model.set_field(angle, -45.0)
        assert model.state == before
        told = []
        model.refused.connect(told.append)
        model.set_field(angle, -40.0)
        assert "parallel" in told[0]
        model.set_field(angle, 30.0)
        assert told[-1] == ""
        assert model.state.probes[0].angle_deg == 30.0

    def test_the_same_value_says_nothing(self, qtbot):
        model = LabModel()
        with qtbot.assertNotEmitted(model.changed, wait=50):
            model.set(speed_rpm=model.state.speed_rpm)

    def test_pictures_are_told_once_a_frame(self, qtbot):
        model, told = LabModel(), []
        model.drawn_anew.connect(told.append)
        for speed in range(1000, 1050):
            model.set(speed_rpm=float(speed))
        qtbot.waitUntil(lambda: bool(told))
        assert told == [False]
        assert model.result.state.speed_rpm == 1049.0

    def test_a_loaded_state_asks_for_a_new_scale(self, qtbot):
        model = LabModel()
        with qtbot.waitSignal(model.drawn_anew) as told:
            model.load(LabState((Precession(1.0, 5.0),)))
        assert told.args == [True]

    def test_the_setup_follows_what_it_depends_on(self):
        model = LabModel()
        model.set(rotation_wrong=True)
        assert model.setup.machine.rotation == "cw"
        model.set_field(lab_fields.probe_fields(0)[0], 10.0)
        assert model.setup.probe[0].angle_deg == 10.0


class TestClock:
    def test_it_turns_only_while_somebody_looks(self, qtbot):
        clock = LabClock()
        with qtbot.assertNotEmitted(clock.moved, wait=80):
            clock.set_running(True)
        with qtbot.waitSignal(clock.moved):
            clock.set_watched(True)
        clock.set_watched(False)
        with qtbot.assertNotEmitted(clock.moved, wait=80):
            pass

    def test_a_step_stops_it_where_it_is_put(self, qtbot):
        clock = LabClock()
        clock.set_watched(True)
        clock.set_turns(0.25)
        clock.step(15.0)
        assert not clock.running
        with qtbot.assertNotEmitted(clock.moved, wait=60):
            pass
        assert 0.25 + 15.0 / 360.0 <= clock.turns < 0.5

    def test_it_goes_round(self):
        clock = LabClock()
        clock.set_wrap(4)
        clock.set_turns(3.9)
        clock.step(72.0)
        assert clock.turns == pytest.approx(0.1)
