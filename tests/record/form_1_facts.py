"""Facts as version 0.1.0 wrote them, and what they are today: the visit, its steps, its readings."""

from datetime import date
from decimal import Decimal

from handsfree.model import facts
from handsfree.model.open_items import OpenHold, OpenLateQuestion, OpenReading, OpenStep, OpenZone
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
    Timing,
)
from handsfree.model.reasons import (
    AsWritten,
    Grounds,
    HeatWordSaid,
    Severity,
)
from handsfree.model.refusals import OtherSide

HEARD = {
    "heard": "affirmative",
    "probability": 0.98,
    "runner_up": "negative",
    "engine": "neural-both",
    "spoken_from_s": 1.5,
    "spoken_to_s": 2,
}
SAID = facts.Utterance(
    text="affirmative",
    probability=0.98,
    runner_up="negative",
    engine="neural-both",
    spoken_from_s=1.5,
    spoken_to_s=2.0,
)
READING = {
    "stage": "nv_after@left",
    "step": "nv_after",
    "phase": "after",
    "field": "refill",
    "label": "refill",
    "side": "left",
    "timing": "after",
    "type": "exact",
    "value": "3",
    "unit": "s",
    "comparator": None,
    "decimals": 1,
    "class": "amber",
    "class_reason": "refill is over two, as on the other side: look at the strap, repeated",
    "asked": True,
    **HEARD,
}
STATED = {
    "stage": "nv_after@left",
    "step": "nv_after",
    "phase": "after",
    "field": "refill",
    "label": "refill",
    "side": Side.LEFT,
    "timing": Timing.AFTER,
    "value": Exact(Decimal("3.0"), 1),
    "unit": "s",
    "severity": Severity.AMBER,
    "grounds": Grounds(AsWritten("refill is over two"), repeated=True, alike="look at the strap"),
    "asked": True,
    "heard": SAID,
}
ZONE = {
    "zone": "fracture_side",
    "label": "fracture side",
    "lit_s": 6.5,
    "possible_s": 7,
    "target_s": 6,
    "dose_j_cm2": 0.325,
    "runs": 1,
    "strap_shadowed": False,
}
OF_VISIT_AND_READINGS = [
    (
        "session_started",
        {
            "record_id": "r",
            "procedure": "p",
            "procedure_sha256": "ab",
            "practice": True,
            "local_offset_minutes": 60,
            "today": "2026-11-25",
            "versions": {"handsfree": "0.1.0"},
            "unapproved": ["A title"],
            "cautions": ["A caution."],
        },
        facts.VisitBegun(
            record_id="r",
            procedure="p",
            procedure_sha256="ab",
            practice=True,
            local_offset_minutes=60,
            today=date(2026, 11, 25),
            versions={"handsfree": "0.1.0"},
            unapproved=("A title",),
            cautions=("A caution.",),
            compared_with=None,
        ),
    ),
    ("session_interrupted", {"gap_s": 3.5, "stage": "a"}, facts.VisitContinued(gap_s=3.5, stage="a")),
    ("session_paused", {"stage": "a"}, facts.VisitPaused(stage="a")),
    ("session_resumed", {"stage": "a"}, facts.VisitResumed(stage="a")),
    (
        "session_stopped",
        {"stage": "a", "role": "surgeon", "reason": "senior", **HEARD},
        facts.VisitEndedEarly(stage="a", role="surgeon", reason="senior", code=None, heard=SAID),
    ),
    (
        "session_closed",
        {
            "outcome": "stopped",
            "open_items": [
                "latch: the word hot was said",
                "no value: nv_after@left.pulse",
                "step: sign_out",
                "zone: fracture side",
                "late heat question",
            ],
            "zones": [ZONE],
            "practice": False,
            "stages_done": 3,
            "notes": 1,
        },
        facts.VisitClosed(
            outcome="stopped",
            open_items=(
                OpenHold(Grounds(HeatWordSaid("hot"))),
                OpenReading("nv_after@left", "pulse"),
                OpenStep("sign_out"),
                OpenZone("fracture_side", "fracture side"),
                OpenLateQuestion(),
            ),
            zones=(facts.ZoneSum(**ZONE),),
            practice=False,
            stages_done=3,
            notes=1,
        ),
    ),
    (
        "close_refused",
        {"open_items": ["zone: fracture side"]},
        facts.CloseRefused(open_items=(OpenZone("", "fracture side"),)),
    ),
    ("status_told", {"stages_done": 4}, facts.StatusTold(stages_done=4)),
    ("kind_declared", {"kind": "practice"}, facts.KindDeclared(declared="practice")),
    ("side_declared", {"side": "left"}, facts.SideDeclared(side=Side.LEFT)),
    (
        "size_chosen",
        {"size": None, "mean": "18.5", "unit": "cm", "landmark": "wrist crease"},
        facts.SizeChosen(size=None, mean=Decimal("18.5"), unit="cm", landmark="wrist crease"),
    ),
    (
        "due_set",
        {"stage": "a", "step": "a", "field": "f", "due": "2026-11-25T10:00:00.000Z", "value": "60", "unit_s": 60.0},
        facts.DueSet(
            stage="a", step="a", field="f", due="2026-11-25T10:00:00.000Z", value=Exact(Decimal(60)), unit_s=60.0
        ),
    ),
    (
        "due_met",
        {"due": "2026-11-25T10:00:00.000Z", "late_s": -30},
        facts.DueMet(due="2026-11-25T10:00:00.000Z", late_s=-30),
    ),
    (
        "step_entered",
        {"stage": "a@left", "step": "a", "phase": "during", "again": True},
        facts.StepEntered(stage="a@left", step="a", phase="during", again=True),
    ),
    ("step_reviewed", {"stage": "a"}, facts.StepReviewed(stage="a")),
    ("step_told", {"stage": "a"}, facts.StepTold(stage="a")),
    ("step_confirmed", {"stage": "a", "step": "a", **HEARD}, facts.StepConfirmed(stage="a", step="a", heard=SAID)),
    ("step_denied", {"stage": "a", "step": "a"}, facts.StepDenied(stage="a", step="a")),
    (
        "step_skipped",
        {"stage": "a", "step": "a", "reason": "not_indicated"},
        facts.StepSkipped(stage="a", step="a", reason="not_indicated"),
    ),
    ("skip_dropped", {"stage": "a"}, facts.SkipDropped(stage="a")),
    (
        "step_overridden",
        {"stage": "a", "role": "surgeon", "reason": "judged", **HEARD},
        facts.StepOverridden(stage="a", role="surgeon", reason="judged", heard=SAID),
    ),
    (
        "item_taught",
        {"stage": "a", "item": "dry", "said": "Keep it dry.", "teach_back": True},
        facts.ItemTaught(stage="a", item="dry", said="Keep it dry.", teach_back=True),
    ),
    ("stage_exposed", {"stage": "a"}, facts.StageExposed(stage="a")),
    ("reading_proposed", READING, facts.ReadingProposed(**STATED)),
    ("reading_confirmed", READING | {"read_back": "echo"}, facts.ReadingConfirmed(**STATED, read_back="echo")),
    (
        "reading_amended",
        READING | {"read_back": "affirmed", "old_value": "4", "reason": "repeated as asked"},
        facts.ReadingAmended(**STATED, read_back="affirmed", old_value=Exact(Decimal(4)), why="repeated"),
    ),
    (
        "reading_amended",
        READING | {"read_back": "affirmed", "old_value": "not-performed", "reason": "corrected by voice"},
        facts.ReadingAmended(
            **STATED, read_back="affirmed", old_value=Absent(AbsentReason.NOT_PERFORMED), why="corrected"
        ),
    ),
    (
        "reading_classed_again",
        {"stage": "a", "step": "a", "field": "f", "class": "none", "class_reason": ""},
        facts.ReadingClassedAgain(stage="a", step="a", field="f", severity=Severity.NONE, grounds=None),
    ),
    (
        "reading_refused",
        {"stage": "a", "field": "f", "reason": "This is about the left side.", **HEARD},
        facts.ReadingRefused(stage="a", field="f", reason=OtherSide(Side.LEFT), heard=SAID),
    ),
    (
        "reading_refused",
        {"stage": "a", "field": "", "reason": "They differ by two. Measure both again."},
        facts.ReadingRefused(
            stage="a", field="", reason=AsWritten("They differ by two. Measure both again."), heard=None
        ),
    ),
    (
        "read_back_disputed",
        {
            "stage": "a",
            "fields": ["n", "o", "c", "d"],
            "values": {"n": "17.5", "o": "weak", "c": "A4", "d": "2027-11-30"},
        },
        facts.ReadBackDisputed(
            stage="a",
            values={
                "n": Exact(Decimal("17.5"), 1),
                "o": Option("weak"),
                "c": SpelledText("A4"),
                "d": SpokenDate(date(2027, 11, 30)),
            },
        ),
    ),
    (
        "values_dropped",
        {"stage": "a", "values": {"r": "50-60", "b": "<2", "x": "asked-declined", "y": "2027-02-31"}},
        facts.ValuesDropped(
            stage="a",
            values={
                "r": Between(Decimal(50), Decimal(60)),
                "b": Beyond("<", Decimal(2)),
                "x": Absent(AbsentReason.ASKED_DECLINED),
                "y": SpelledText("2027-02-31"),
            },
        ),
    ),
    ("repeat_asked", {"stage": "a", "fields": ["f"]}, facts.RepeatAsked(stage="a", fields=("f",))),
    ("correction_opened", {"stage": "a"}, facts.CorrectionOpened(stage="a")),
]
