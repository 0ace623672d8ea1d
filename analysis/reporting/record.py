"""The record of a proof test, from its steps and how they came out.

Probe check makes its records of the same shapes (`analysis.model.record`); `CheckHead` and
`chains_of` are for both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from analysis.model.advice import FROM_MEMORY
from analysis.model.proof import ExpectedReading, ProofStep, StepResult
from analysis.model.record import (
    CheckRecord,
    Instrument,
    Outcome,
    ProbeIdentity,
    RecordField,
    RecordStep,
    Signature,
    Stage,
    StepTable,
    Verdict,
)
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from analysis.protection.contacts import relays_of
from analysis.protection.proof_words import PROOF_CAUTIONS, limit_text

_BASIS: Final = (
    "common practice; delay, latching and votes as API 670, 5th edition (2014), asks, "
    f"{FROM_MEMORY}"
)
_FAULT_BASIS: Final = (
    "a circuit fault is told apart and moves no p-p limit: API 670, 5th edition (2014), "
    f"{FROM_MEMORY}; 3.6 mA: NAMUR NE 43, seen in articles on it"
)
CAPTURE_ALONE: Final = "; by the capture alone where nothing was read: no relay, no loop"
SIGNATURES: Final = (
    Signature(role="Done by"),
    Signature(role="Checked by"),
    Signature(role="For the machine's owner"),
)


@dataclass(frozen=True)
class CheckHead:
    """What a person says of a check: who, when, where, with what."""

    number: str = ""
    site: str = ""
    made_by: str = ""
    made_at: datetime | None = None
    ambient_c: float | None = None
    program: str = "Runtrue"
    source: str = ""
    remarks: str = ""
    instruments: tuple[Instrument, ...] = ()
    chains: tuple[ProbeIdentity, ...] = ()


def chains_of(setup: Setup, names: Sequence[str]) -> tuple[ProbeIdentity, ...]:
    """The measuring chains of these probes as far as the setup knows them, serials left open."""
    out = []
    for name in names:
        probe = setup.probe_named(name)
        scale = 1000.0 * probe.scale_factor_v_per_um
        table = ", calibration table" if probe.calibration is not None else ""
        out.append(
            ProbeIdentity(
                name=name, channel=probe.channel, scale_factor=f"{scale:.3f} mV/µm{table}"
            )
        )
    return tuple(out)


def proof_record(
    setup: Setup,
    steps: Sequence[ProofStep],
    results: Sequence[StepResult],
    head: CheckHead,
    *,
    stage: Stage = "as found",
    earlier: CheckRecord | None = None,
    unit: LengthUnit = LengthUnit.UM,
) -> CheckRecord:
    """The record of a proof test.

    Args:
        setup: the settings that were proved.
        steps: the steps; those without a result stand as not done.
        results: how steps came out, by hand or from a capture.
        head: who, when, with what.
        stage: whether this is as found or as left.
        earlier: a record of the same check whose steps come first: as found before as left. Its
            verdicts stand as information, since the later ones count.
        unit: the unit that settings are written in.
    """
    by_number = {result.number: result for result in results}
    probes = list(dict.fromkeys(name for step in steps for name in step.probes))
    indices = dict.fromkeys(step.index for step in steps if step.index is not None)
    before = () if earlier is None else earlier.steps
    old = () if earlier is None else tuple(_as_information(v) for v in earlier.verdict)
    relays = ", ".join(
        f"{relay.name}: by {relay.driven_by}, {relay.contact.replace('_', ' ')}, energised while "
        f"{relay.energised}"
        for relay in relays_of(setup)
    )
    return CheckRecord(
        kind="proof_test",
        title=f"Proof test of {', '.join(probes)}",
        number=head.number,
        machine=setup.machine.title,
        site=head.site,
        made_by=head.made_by,
        made_at=head.made_at,
        ambient_c=head.ambient_c,
        program=head.program,
        source=head.source,
        remarks=head.remarks,
        cautions=PROOF_CAUTIONS,
        field=(
            *(
                RecordField(name=f"Limit {index + 1}", value=limit_text(setup, index, unit))
                for index in indices
            ),
            RecordField(name="Relays", value=relays + (" (assumed)" if not setup.relay else "")),
        ),
        probe=head.chains or chains_of(setup, probes),
        instrument=head.instruments,
        verdict=(*old, *_verdicts(setup, steps, by_number, unit, stage)),
        steps=(*before, _step_table(steps, by_number, stage)),
        signature=SIGNATURES,
    )


def outcome_of_steps(results: Sequence[Outcome]) -> Outcome:
    """The outcome of several: fail when one failed, pass when all passed, else not done."""
    if "fail" in results:
        return "fail"
    return "pass" if results and all(result == "pass" for result in results) else "not done"


def _verdicts(
    setup: Setup,
    steps: Sequence[ProofStep],
    results: Mapping[int, StepResult],
    unit: LengthUnit,
    stage: Stage,
) -> list[Verdict]:
    verdicts = []
    for group, members in groupby(steps, key=lambda step: step.group):
        own = list(members)
        if group < 0:
            continue
        outcome = outcome_of_steps([_result_of(step, results).result for step in own])
        first = own[0]
        who = ", ".join(first.probes)
        when = f", {stage}" if stage else ""
        if first.index is None:
            text, basis = f"Circuit fault of {who}{when}", _FAULT_BASIS
        else:
            side = f", {first.side}" if first.side != "outside" else ""
            votes = ", a circuit fault votes" if _has_fault_vote(own) else ""
            text = f"{limit_text(setup, first.index, unit)} — tried on {who}{side}{votes}{when}"
            basis = _BASIS
        if outcome == "pass" and not all(_result_of(step, results).by_hand for step in own):
            text += CAPTURE_ALONE
        verdicts.append(Verdict(text=text[:1].upper() + text[1:], result=outcome, basis=basis))
    return verdicts


def _has_fault_vote(steps: Sequence[ProofStep]) -> bool:
    return any(step.kind == "fault_vote" for step in steps)


def _step_table(
    steps: Sequence[ProofStep], results: Mapping[int, StepResult], stage: Stage
) -> StepTable:
    rows = []
    for step in steps:
        result = _result_of(step, results)
        rows.append(
            RecordStep(
                number=step.number,
                title=step.full_title[:1].upper() + step.full_title[1:],
                do=step.do,
                expected="\n".join(_expected_text(each) for each in step.expected),
                read=_read_text(result),
                result=result.result,
                remark=result.remark,
            )
        )
    return StepTable(title="Steps", stage=stage, steps=tuple(rows))


def _result_of(step: ProofStep, results: Mapping[int, StepResult]) -> StepResult:
    return results.get(step.number, StepResult(step.number, "not done"))


def _expected_text(expected: ExpectedReading) -> str:
    return f"{expected.where}: {expected.text}"


def _read_text(result: StepResult) -> str:
    if result.start_s is None or result.end_s is None:
        return result.read
    where = f"capture, {result.start_s:.1f} to {result.end_s:.1f} s"
    return f"{result.read}\n{where}" if result.read else where


def _as_information(verdict: Verdict) -> Verdict:
    return verdict.model_copy(update={"result": "information", "text": _told(verdict)})


def _told(verdict: Verdict) -> str:
    return f"{verdict.text}: {verdict.result}"
