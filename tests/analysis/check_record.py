"""A record with everything in it, long enough for several pages."""

from __future__ import annotations

from datetime import UTC, date, datetime

from analysis.model.record import (
    CheckRecord,
    Instrument,
    ProbeIdentity,
    RecordField,
    RecordStep,
    RecordTable,
    Signature,
    StepTable,
    Verdict,
)


def full_record(steps: int = 30) -> CheckRecord:
    """Every table, both stages, both decimal signs, and text that is no markup."""
    rows = tuple((25.0 * n, 4.0 + 2.0 * n, -0.06, "as left") for n in range(9))
    done = tuple(
        RecordStep(
            number=n + 1,
            title=f"step {n + 1}",
            do="Apply 131.2 µm p-p (1033 mV p-p) at gap 1250 µm (−9.84 V d.c.). " * (1 + n % 3),
            expected="loop DE-X p-p: 14.50 mA, 3.625 V across 250 Ω\nrelay TRIP: closed",
            read="14.48 mA\nclosed" if n % 4 else "",
            result=("pass", "fail", "not done", "not found")[n % 4],
            remark="A < B & C" if n == 1 else "",
        )
        for n in range(steps)
    )
    return CheckRecord(
        kind="proof_test",
        title="Proof test of DE-X",
        number="PT-7",
        machine="Brine pump P-204",
        site="Larkfell Water",
        made_by="A. Tester",
        made_at=datetime(2026, 2, 24, 10, 5, tzinfo=UTC),
        ambient_c=21.5,
        program="Runtrue",
        source="run_up.h5",
        remarks='Quotes "here" and a\nsecond line.',
        cautions=("Hands off turning shafts.", "Only with authority. " * 12),
        field=(RecordField(name="Limit 1", value="trip above 125 µm p-p for 1 s, latching"),),
        probe=(ProbeIdentity(name="DE-X", probe_serial="P-" + "8" * 40, scale_factor="7.874"),),
        instrument=(
            Instrument(name="Calibrator", serial="K-1", calibrated_on=date(2026, 1, 9)),
            Instrument(name="Meter", due_on=date(2027, 1, 9), certificate="C 12"),
        ),
        verdict=(
            Verdict(text="The trip acts", result="pass", basis="common practice"),
            Verdict(text="The loop", result="fail", basis="API 670, 5th edition (from memory)"),
        ),
        table=(
            RecordTable(title="Loop", stage="as left", columns=tuple("abcd"), rows=rows, note="n"),
            RecordTable(title="Empty", columns=("a",)),
        ),
        steps=(StepTable(title="Steps", stage="as found", steps=done),),
        signature=(Signature(role="Done by", name="A. Tester"), Signature(role="Owner")),
    )
