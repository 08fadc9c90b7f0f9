"""Whose visit it is: asked in a live visit, checked, kept; and an earlier record of another patient or side.

Two identifiers of the patient before treatment: Joint Commission, National Patient Safety Goal NPSG.01.01.01. That a
record holds a code in place of a name, and how a code is told from one: common practice, no source.
"""

from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.baseline import MEANT_FROM_THE_START, Baseline
from handsfree.model.patient_reference import ReferenceFault
from handsfree.model.readings import Exact, Side
from handsfree.model.reasons import BaselineOfAnotherPatient, BaselineOfAnotherSide, Grounds, RoseBy, Severity
from handsfree.model.refusals import NoReference

BUNDLE = load_bundle("neurovascular-check")
EARLIER = {"pain.rest@left": Exact(Decimal(0)), "pain.stretch@left": Exact(Decimal(0))}


def baseline(reference="DEMO-0001", side=Side.LEFT, *, meant=False):
    return Baseline("record-0", "2026-11-20", EARLIER, "", reference, side, meant)


def live(**session):
    """A live visit that stands behind the question of its kind."""
    talk = Talk(BUNDLE, **session)
    talk.give(kind="live")
    return talk


def to_pain(talk):
    """On the left side, as far as the first scores, which rise against the earlier record."""
    talk.go_to("side")
    talk.give(injured="left")
    talk.affirm()


def scores(talk):
    talk.give(rest=3, stretch=3, proportion="expected")
    talk.affirm()


def test_a_live_visit_asks_for_the_reference_reads_it_back_and_keeps_it():
    talk = live()
    assert talk.at == "patient"
    assert "Spell the patient's reference" in talk.said
    talk.give(reference="#DEMO0001")
    assert talk.mode == "reading_back"
    assert "delta echo mike, oscar zero zero, zero one" in talk.said
    assert talk.facts("patient_reference_declared") == []
    talk.affirm()
    assert [fact.reference for fact in talk.facts("patient_reference_declared")] == ["DEMO0001"]
    assert talk.at == "identity"


def test_practice_and_a_visit_begun_with_a_reference_are_not_asked():
    practice = Talk(BUNDLE)
    practice.give(kind="practice")
    assert practice.at == "identity"
    given = live(patient_reference="DEMO-0001")
    assert given.at == "identity"
    assert given.facts("patient_reference_declared") == []
    assert "Patient reference delta echo mike, hyphen oscar" not in given.said  # said at the very start
    assert any("Patient reference delta echo mike" in getattr(effect, "text", "") for effect in given.history[0])
    assert not any(stage == "patient" for stage in (fact.stage for fact in given.finish().facts("step_entered")))


def test_a_procedure_without_a_patient_does_not_ask():
    for name in ("light-output-check", "thermometer-calibration"):
        bundle = load_bundle(name)
        assert bundle.procedure.patient_from is None
        talk = Talk(bundle).finish()
        assert talk.facts("patient_reference_declared") == []
    for name in ("wrist-splint-fitting", "thumb-splint-fitting", "ulnar-splint-fitting", "splint-removal"):
        assert load_bundle(name).procedure.patient_from == "patient.reference"


@pytest.mark.parametrize(
    ("said", "fault", "words"),
    [
        ("#ANNA", ReferenceFault.LIKE_A_NAME, "never a name"),
        ("#12031984", ReferenceFault.LIKE_A_BIRTH_DATE, "reads like a birth date"),
        ("#A1", ReferenceFault.NOT_OF_THIS_SITE, "no code of this site"),
    ],
)
def test_what_is_no_reference_is_refused_with_its_reason_and_asked_again(said, fault, words):
    talk = live()
    talk.give(reference=said)
    assert talk.kinds == ["reading_refused"]
    assert talk.facts("reading_refused")[0].reason == NoReference("reference", fault)
    assert words in talk.said
    assert (talk.at, talk.mode) == ("patient", "asking")
    talk.give(reference="#DEMO0001")
    assert talk.mode == "reading_back"


def test_the_pattern_of_the_site_decides():
    talk = live(reference_pattern="W[0-9]{5}")
    talk.give(reference="#DEMO0001")
    assert talk.facts("reading_refused")[0].reason == NoReference("reference", ReferenceFault.NOT_OF_THIS_SITE)
    talk.give(reference="#W12345")
    assert talk.mode == "reading_back"


def test_who_has_no_reference_says_so_with_a_reason():
    talk = live()
    talk.say("next_step")
    assert talk.kinds == ["command_refused"]
    talk.say("skip")
    talk.give(reason="unavailable")
    assert [fact.reason for fact in talk.facts("step_skipped")] == ["unavailable"]
    assert talk.finish().outcome == "completed"


def test_a_correction_keeps_the_reference_before():
    talk = live()
    for code in ("#DEMO0001", "#DEMO0007"):
        talk.give(reference=code)
        talk.affirm()
        talk.say("correction") if code == "#DEMO0001" else None
    assert [fact.reference for fact in talk.facts("patient_reference_declared")] == ["DEMO0001", "DEMO0007"]
    assert talk.facts("reading_amended")[0].old_value.text == "DEMO0001"


def another(there="DEMO-0001", here="DEMO0002"):
    return Grounds(BaselineOfAnotherPatient(there, here))


def practice(**session):
    """A practice visit that stands behind the question of its kind."""
    talk = Talk(BUNDLE, **session)
    talk.give(kind="practice")
    return talk


def test_practice_is_compared_with_a_patients_record_only_where_somebody_says_so():
    # Nobody is asked whose visit practice is: what is compared with may be of anybody.
    talk = practice(baseline=baseline())
    assert [fact.grounds for fact in talk.facts("hold_set")] == [another(here="")]
    assert "Nobody said whose visit this is; the earlier record is of one patient." in talk.said
    assert talk.said.endswith("Say compare anyway, leave it out, or end the visit.")
    talk.give(baseline="left_out")
    assert talk.mode == "asking"
    to_pain(talk)
    scores(talk)
    assert talk.facts("hold_lifted")[-1].reason == "left_out"
    assert {fact.severity for fact in talk.facts("reading_confirmed") if fact.step == "pain"} == {Severity.NONE}


@pytest.mark.parametrize(
    "session",
    [
        {"baseline": baseline(reference="")},
        {"baseline": baseline(), "patient_reference": "DEMO-0001"},
    ],
)
def test_practice_is_compared_with_a_record_of_nobody_and_with_that_of_the_patient_who_is_named(session):
    talk = practice(**session)
    assert talk.facts("hold_set") == []
    to_pain(talk)
    scores(talk)
    assert Severity.RED in {fact.severity for fact in talk.facts("reading_confirmed") if fact.step == "pain"}


def test_an_earlier_record_of_another_patient_holds_the_visit():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    assert [(fact.hold, fact.grounds) for fact in talk.facts("hold_set")] == [("stop", another())]
    assert talk.mode == "held"
    assert "Do not go on. The earlier record is of another patient. Say compare anyway, leave it out" in talk.said
    for slip in ("affirm", "negate", "next_step"):
        talk.say(slip)
        assert talk.mode == "held"
    talk.say("help")
    assert "compare anyway" in talk.said


def test_the_same_patient_written_with_a_hyphen_is_the_same():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0001")
    talk.affirm()
    assert talk.facts("hold_set") == []
    to_pain(talk)
    scores(talk)
    assert any(fact.severity is Severity.RED for fact in talk.facts("reading_confirmed"))


def test_left_out_means_that_nothing_is_compared_with_it():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    talk.give(baseline="left_out")
    lifted = talk.facts("hold_lifted")[0]
    assert (lifted.role, lifted.reason, lifted.heard.text) == (None, "left_out", "words")
    assert "Nothing is compared with it." in talk.said
    to_pain(talk)
    scores(talk)
    assert {fact.severity for fact in talk.facts("reading_confirmed")} == {Severity.NONE}


def test_meant_means_that_it_is_compared():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    talk.give(baseline="meant")
    assert talk.facts("hold_lifted")[0].reason == "meant"
    assert talk.at == "identity"
    to_pain(talk)
    scores(talk)
    flagged = [fact.grounds.ground for fact in talk.facts("reading_confirmed") if fact.grounds is not None]
    assert RoseBy("rest", Decimal(3)) in flagged


def test_a_reference_that_was_misheard_is_said_again_and_the_stop_goes_with_it():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    talk.say("correction")
    talk.give(reference="#DEMO0001")
    talk.affirm()
    assert [fact.reason for fact in talk.facts("hold_lifted")] == ["answered_again"]
    assert talk.at == "identity"


def test_whether_the_earlier_record_is_meant_is_answered_and_never_overridden():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    assert talk.said.endswith("Say compare anyway, leave it out, correction, or end the visit.")
    talk.say("override")
    assert talk.kinds == ["command_refused"]
    assert talk.mode == "held"


def test_a_reference_corrected_late_judges_anew_what_was_compared():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    talk.give(baseline="meant")
    to_pain(talk)
    talk.give(rest=2, stretch=0, proportion="expected")
    talk.affirm()
    assert talk.mode == "held"
    talk.override()
    for _ in range(20):
        if talk.at == "patient":
            break
        talk.say("previous_step")
    talk.say("correction")
    talk.give(reference="#DEMO0003")
    talk.affirm()
    assert talk.mode == "held"  # another pair of references, so another question
    again = talk.facts("reading_classed_again")
    assert [(fact.field, fact.severity) for fact in again] == [("rest", Severity.NONE)]


def test_an_earlier_record_of_the_other_side_holds_the_visit():
    talk = Talk(BUNDLE, baseline=baseline(side=Side.RIGHT), patient_reference="DEMO-0001", practice=True)
    talk.give(kind="practice")
    talk.go_to("side")
    talk.give(injured="left")
    talk.affirm()
    assert talk.facts("hold_set")[0].grounds == Grounds(BaselineOfAnotherSide("right", "left"))
    assert "The earlier record is of the right side." in talk.said
    talk.give(baseline="left_out")
    assert talk.at == "pain@left"


def test_what_was_meant_from_the_start_is_told_and_recorded_and_holds_nothing():
    talk = live(baseline=baseline(meant=True))
    talk.give(reference="#DEMO0002")
    talk.affirm()
    assert talk.facts("hold_set")[0].grounds == another()
    assert talk.facts("hold_lifted")[0].reason == MEANT_FROM_THE_START
    assert "The earlier record is of another patient." in talk.said
    assert talk.mode == "asking"
    to_pain(talk)
    scores(talk)
    assert any(fact.severity is Severity.RED for fact in talk.facts("reading_confirmed"))


def test_an_earlier_record_that_names_nobody_is_compared_with_as_before():
    talk = live(baseline=baseline(reference="", side=None))
    talk.give(reference="#DEMO0002")
    talk.affirm()
    assert talk.facts("hold_set") == []


def test_the_words_that_answer_are_heard_only_where_they_are_asked_for():
    talk = live(baseline=baseline())
    talk.give(reference="#DEMO0002")
    talk.affirm()
    slot = talk.session.wanted.slots[0]
    assert {option.value: option.phrases for option in slot.options} == {
        "meant": ("compare anyway",),
        "left_out": ("leave it out",),
    }
    talk.give(baseline="meant")
    assert all(slot.slot != "baseline" for slot in talk.session.wanted.slots)
    talk.give(match="different", first="full_name", second="birth_date")
    talk.affirm()
    assert talk.mode == "held"
    assert talk.session.wanted.slots == ()
    talk.give(baseline="meant")
    assert talk.kinds == ["command_refused"]


PATIENT = """\
  - id: patient
    kind: identify
    phase: before
    prompt: Reference?
    source: common
    fields:
      - {id: reference, label: reference, identifier: {max_length: 12}}
"""


def faults_of(folder, procedure):
    folder.mkdir()
    with pytest.raises(ProcedureFileError) as raised:
        load_bundle(str(write_files(folder, procedure=procedure)))
    return str(raised.value)


def test_the_step_that_asks_must_fit(tmp_path):
    at = PROCEDURE.index("steps:\n") + len("steps:\n")
    first = PROCEDURE[:at] + PATIENT + PROCEDURE[at:]
    named = f"patient_from: patient.reference\n{first}"
    assert "practice is not asked for a patient" in faults_of(tmp_path / "early", named)
    wrong = f"patient_from: pack.lot\n{PROCEDURE}"
    assert "pack.lot is no identifier that a step asks for alone" in faults_of(tmp_path / "two", wrong)
    assert "is no identifier" in faults_of(tmp_path / "none", f"patient_from: nobody.there\n{PROCEDURE}")


def without_reference():
    talk = live(baseline=baseline())
    talk.say("skip")
    talk.give(reason="unavailable")
    return talk


def test_where_nobody_said_whose_visit_it_is_an_earlier_record_is_not_compared_silently():
    """As for another patient: common practice, no source."""
    talk = without_reference()
    assert talk.mode == "held"
    assert [fact.grounds for fact in talk.facts("hold_set")] == [another(here="")]
    assert talk.said == (
        "Do not go on. Nobody said whose visit this is; the earlier record is of one patient. "
        "Say compare anyway, leave it out, correction, or end the visit."
    )


@pytest.mark.parametrize(("answer", "class_"), [("meant", Severity.RED), ("left_out", Severity.NONE)])
def test_then_somebody_says_whether_it_is_meant(answer, class_):
    talk = without_reference()
    talk.give(baseline=answer)
    assert (talk.at, talk.mode) == ("identity", "asking")
    assert [fact.reason for fact in talk.facts("hold_lifted")] == [answer]
    assert [fact.reason for fact in talk.facts("step_skipped")] == ["unavailable"]
    to_pain(talk)
    scores(talk)
    assert next(fact for fact in talk.facts("reading_confirmed") if fact.field == "rest").severity is class_
    assert len(talk.facts("hold_set")) == (3 if class_ is Severity.RED else 1)


def test_or_says_whose_visit_it_is():
    talk = without_reference()
    talk.say("correction")
    talk.give(reference="#DEMO0001")
    talk.affirm()
    assert [fact.reason for fact in talk.facts("hold_lifted")] == ["answered_again"]
    assert (talk.at, talk.mode) == ("identity", "asking")
    to_pain(talk)
    scores(talk)
    assert next(fact for fact in talk.facts("reading_confirmed") if fact.field == "rest").severity is Severity.RED


def test_an_earlier_record_that_names_nobody_is_compared_as_it_was_chosen():
    talk = live(baseline=baseline(reference=""))
    talk.say("skip")
    talk.give(reason="unavailable")
    assert (talk.at, talk.mode) == ("identity", "asking")
