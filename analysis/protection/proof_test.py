"""Proof test of limits: the written steps, readings judged, and a captured test checked.

The steps follow common practice of the trade: just inside a limit nothing acts, a burst shorter
than the delay does nothing, beyond it for the delay sets, a reset while it is present does nothing,
back inside the latch holds until a reset, an open probe cable is a circuit fault and moves no p-p
limit. They bypass nothing and drive nothing; see `PROOF_CAUTIONS`.
"""

from __future__ import annotations

from collections.abc import Sequence

from analysis.model.proof import ExpectedReading, ProofStep
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit

from .proof_check import check_capture
from .proof_plan import Group, Outlook, drafts_of, groups_of, outlooks
from .proof_values import applied_of
from .proof_words import (
    FINISH_TEXT,
    PROOF_CAUTIONS,
    TITLES,
    do_text,
    expected_readings,
    prepare_text,
    subject_text,
)

__all__ = ["PROOF_CAUTIONS", "check_capture", "proof_steps", "reading_agrees"]


def proof_steps(
    setup: Setup,
    indices: Sequence[int] | None = None,
    *,
    probe: str | None = None,
    unit: LengthUnit = LengthUnit.UM,
) -> tuple[ProofStep, ...]:
    """The steps for these limits as they are set, from preparing to putting back.

    Args:
        setup: the settings; other limits of the same probes and the relays are reckoned with.
        indices: places in `setup.limit`; `None`: all (of the probe).
        probe: only what can be tried on this probe alone; limits with more than one vote need all
            their probes and are left out then.
        unit: the unit that texts are written in.

    Raises:
        IndexError: when there is no such limit.
        KeyError: when a limit names a probe that the setup does not have.
    """
    if indices is None:
        indices = range(len(setup.limit))
    wanted = tuple(i for i in indices if probe is None or probe in setup.limit[i].probes)
    groups = groups_of(setup, wanted, probe)
    if not groups:
        return ()
    tried = tuple(dict.fromkeys(g.index for g in groups if g.index is not None))
    steps = [ProofStep(1, "prepare", -1, TITLES["prepare"], prepare_text(setup, tried, unit))]
    for number, group in enumerate(groups):
        subject = subject_text(setup, group, unit)
        for outlook in outlooks(setup, group, drafts_of(setup, group)):
            steps.append(_step(setup, group, number, outlook, subject, len(steps) + 1, unit))
    steps.append(ProofStep(len(steps) + 1, "finish", -1, TITLES["finish"], FINISH_TEXT))
    return tuple(steps)


def reading_agrees(expected: ExpectedReading, read: str) -> bool | None:
    """Whether what was read is what was expected; `None` while there is nothing to judge.

    A number may be typed with a decimal comma and with its unit behind it. Where a current is
    expected, `V` behind the number takes it for the voltage across 250 Ω.
    """
    text = read.strip()
    if not text:
        return None
    if expected.value is None or expected.tolerance is None:
        return text == expected.text
    text = text.replace(",", ".").replace("−", "-").replace("\u00a0", " ")
    volts = text.endswith("V") and expected.unit == "mA"
    text = text.removesuffix("V" if volts else expected.unit).strip()
    try:
        value = float(text)
    except ValueError:
        return None
    if volts:
        value *= 1000.0 / 250.0
    # Rounding in what is shown and typed is no error of the loop.
    return abs(value - expected.value) <= expected.tolerance + 1e-6


def _step(
    setup: Setup,
    group: Group,
    number: int,
    outlook: Outlook,
    subject: str,
    place: int,
    unit: LengthUnit,
) -> ProofStep:
    draft = outlook.draft
    applied = tuple(
        applied_of(setup.probe_named(name), motion) for name, motion in draft.phases[-1].motions
    )
    return ProofStep(
        number=place,
        kind=draft.kind,
        group=number,
        title=TITLES[draft.kind],
        do=do_text(setup, group, outlook, applied, unit),
        applied=applied,
        hold_s=draft.phases[0].length_s,
        expected=expected_readings(setup, group, outlook, applied),
        index=group.index,
        limit=None if group.index is None else setup.limit[group.index],
        side=group.side,
        probes=group.probes,
        event=draft.event,
        after_s=draft.after_s,
        subject=subject,
    )
