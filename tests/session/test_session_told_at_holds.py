"""What an export says was told at a hold is what the session said there. The session itself is the reference."""

from datetime import UTC, datetime
from decimal import Decimal

from procedure_files import LIGHT, PROCEDURE, write_files
from talking import Talk

from handsfree.application.words_for_export import export_words
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.export.choose import ExportForm, export
from handsfree.model.commands import ScanLabel
from handsfree.model.effects import Append, Say
from handsfree.model.facts import HoldSet
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.record.header import RecordHeader
from handsfree.record.journal import Journal
from handsfree.record.verify import verify
from handsfree.report.hold_actions import told_at_holds

OVERDUE = LIGHT.replace('output_checked_on: "2026-11-02"', 'output_checked_on: "2020-11-02"')
AGREEING = """\
  - id: slips
    kind: choose
    phase: before
    prompt: What do order and chart say?
    hard: true
    source: common
    agree: true
    lift: {by: [surgeon], reasons: [reviewed]}
    fields:
      - {id: order, label: order, options: {left: [left], right: [right]}}
      - {id: chart, label: chart, options: {left: [left], right: [right]}, stop: [right]}
"""
AGREE = PROCEDURE.replace("  - id: ring\n", f"{AGREEING}  - id: ring\n", 1)
OWN_WORDS = PROCEDURE.replace("steps:\n", "sentences: {action.do_not_go_on: Halt here.}\nsteps:\n", 1)


def small(folder, **files):
    path = write_files(folder, **files)
    return load_bundle(str(path)), path


def recorded(talk, folder):
    """The record of a talk."""
    clock = ManualClock(datetime(2026, 11, 25, 9, tzinfo=UTC))
    header = RecordHeader(
        record_id="record-1",
        procedure="small",
        title="Small",
        procedure_sha256=talk.bundle.sha256,
        practice=False,
        versions={},
    )
    with Journal.create(folder, header, clock=clock) as journal:
        for event, effects in zip(talk.events, talk.history, strict=True):
            journal.append(event, [effect for effect in effects if isinstance(effect, Append)])
    return verify(folder).record


def said_at_holds(talk):
    """Everything that was said at each event that set a hold, in order."""
    said = []
    for effects in talk.history:
        held = [one for one in effects if isinstance(one, Append) and isinstance(one.fact, HoldSet)]
        said += [" ".join(one.text for one in effects if isinstance(one, Say))] * len(held)
    return said


def compared(talk, folder):
    """What is told again, in order; each one was said when the hold was set."""
    record = recorded(talk, folder)
    told = told_at_holds(record, talk.bundle)
    listed = [told[one.seq] for one in record.of(HoldSet)]
    assert len(listed) == len(said_at_holds(talk)) > 0
    for words, said in zip(listed, said_at_holds(talk), strict=True):
        assert words in said
    return listed


def give(talk, **values):
    talk.give(**values)
    if talk.mode == "reading_back":
        talk.affirm()


def test_stops_before_the_light_are_told_as_they_were(tmp_path):
    talk = Talk(small(tmp_path, procedure=AGREE, light=OVERDUE)[0])
    talk.go_to("slips")
    give(talk, order="left", chart="right")  # they do not agree, which is told first; one of them stops by itself
    talk.say("correction")
    give(talk, order="right", chart="left")
    talk.override()
    talk.go_to("ring")
    give(talk, ring="stuck")
    talk.go_to("band")
    give(talk, first=Decimal("15.4"), second=Decimal("15.5"))
    talk.override()
    talk.go_to("pack")
    talk.speak(ScanLabel(lot="A4", faults=(ScanFault(ScanFaultCode.CHECK_DIGIT),)), words="01 ...")
    talk.override()
    assert compared(talk, tmp_path / "record") == [
        "Check the light first.",
        "Find out which is right.",
        "Find out which is right.",
        "Find out which is right.",
        "Do not go on.",
        "Ask which size to take.",
        "Do not go on.",
    ]


def test_red_findings_and_heat_are_told_as_they_were(tmp_path):
    bundle, _ = small(tmp_path)
    talk = Talk(bundle)
    talk.go_to("nerve_before@left")
    give(talk, touch="absent", refill=Decimal("1.0"))
    talk.override()
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(2)
    talk.say("hot")
    talk.override()
    talk.go_to("nerve_after@left")
    give(talk, touch="absent", refill=Decimal("1.0"))
    talk.say("pain")
    assert compared(talk, tmp_path / "record") == [
        "Stop. Call the senior clinician now.",
        "Light off. Lift it away. Look at the skin.",
        "Take the sleeve off. Call the senior now.",
        "Light off. Lift it away. Look at the skin.",
    ]


def test_words_that_the_procedure_has_of_its_own_are_told(tmp_path):
    talk = Talk(small(tmp_path, procedure=OWN_WORDS)[0])
    talk.go_to("ring")
    give(talk, ring="stuck")
    assert compared(talk, tmp_path / "record") == ["Halt here."]


def test_the_note_tells_it_at_each_hold(tmp_path):
    bundle, path = small(tmp_path)
    talk = Talk(bundle)
    talk.go_to("ring")
    give(talk, ring="stuck")
    talk.say("correction")
    give(talk, ring="absent")
    talk.go_to("nerve_before@left")
    give(talk, touch="absent", refill=Decimal("1.0"))
    recorded(talk, tmp_path / "record")
    note = export(tmp_path / "record", ExportForm.NOTE, lambda record: export_words(record, path))
    assert "held at “Is a ring absent or stuck”: ring stuck. Told: Do not go on.  (entry" in note
    nerve = bundle.plan.names.stage("nerve_before@left")
    assert "nerve_before" not in nerve
    assert f"red flag at {nerve}: touch absent. Told: Stop. Call the senior clinician now.  (entry" in note
    # Without the file nobody knows what the step says about a red finding; a stop says it by its code alone.
    unknown = export(tmp_path / "record", ExportForm.NOTE, export_words)
    assert "held at ring: ring stuck. Told: Do not go on.  (entry" in unknown
    assert "touch absent. Told: what its procedure says, which is not at hand.  (entry" in unknown
