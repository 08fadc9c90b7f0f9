"""Events of form 1, which were named as the program's classes were called."""

from decimal import Decimal

import pytest

from handsfree.errors import RecordError
from handsfree.model.commands import Control, ControlCommand, ScanLabel
from handsfree.model.events import SessionStarted
from handsfree.model.readings import (
    Ambiguous,
    HowToSay,
    NeedsAsking,
    Refused,
    Side,
)
from handsfree.model.reasons import (
    ScanFault,
    ScanFaultCode,
)
from handsfree.record.forms.form_1_events import event_of


@pytest.mark.parametrize(
    ("text", "code", "arguments"),
    [
        ("say it digit by digit", HowToSay.DIGIT_BY_DIGIT, ()),
        ("a code has at most 20 characters; spell it in short groups", HowToSay.CODE_TOO_LONG, ("20",)),
        ("this reading is taken in mm[Hg], without another unit", HowToSay.ANOTHER_UNIT, ("mm[Hg]",)),
        ("did you mean the digit 2", HowToSay.MEANT_THE_DIGIT, ("2",)),
        ("this reading is at most 2 digits after the point", HowToSay.TOO_MANY_DECIMALS, ("2",)),
        ("say zero point 2 5", HowToSay.ZERO_BEFORE_POINT, ("2", "5")),
        ("outside the plausible range, -5 to 40.5", HowToSay.IMPLAUSIBLE, ("-5", "40.5")),
        ("say it nicely", HowToSay.AS_WRITTEN, ("say it nicely",)),
    ],
)
@pytest.mark.parametrize(("old", "new"), [("NeedsAsking", NeedsAsking), ("Refused", Refused)])
def test_how_words_should_be_said_is_a_code(text, code, arguments, old, new):
    given = event_of(event_in_form_1({"type": old, "reason": text}))
    assert given.command.values[0].value == new(code, arguments)


def event_in_form_1(value):
    slot = {"type": "SlotValue", "slot": "refill", "value": value, "side": "left"}
    heard = {
        "type": "Hypothesis",
        "words": ["one"],
        "tags": ["digit:1"],
        "spoken_from_s": 1,
        "spoken_to_s": 2,
        "engine": "typed",
        "evidence": None,
        "runner_up": None,
        "free_text": None,
    }
    return {
        "type": "CommandSpoken",
        "at_s": 2,
        "wall": "2026-11-25T10:00:00.000Z",
        "command": {"type": "GiveValues", "values": [slot]},
        "heard": heard,
        "probability": 1,
    }


def test_events_of_form_1_are_those_of_today():
    event = event_of(event_in_form_1({"type": "Ambiguous", "candidates": ["13", "30"]}))
    (given,) = event.command.values
    assert (given.slot, given.value, given.side) == ("refill", Ambiguous((Decimal(13), Decimal(30))), Side.LEFT)
    assert event.heard.words == ("one",)
    started = {
        "type": "SessionStarted",
        "at_s": 0,
        "wall": "w",
        "local_offset_minutes": 0,
        "today": "2026-11-25",
        "record_id": "r",
        "versions": [["handsfree", "0.1.0"]],
        "practice": True,
    }
    assert event_of(started) == SessionStarted(
        at_s=0.0,
        wall="w",
        local_offset_minutes=0,
        today="2026-11-25",
        record_id="r",
        versions=(("handsfree", "0.1.0"),),
        practice=True,
    )


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("this is not a complete GS1 code; scan it again", ScanFault(ScanFaultCode.INCOMPLETE)),
        ("part of the code was not understood; scan it again", ScanFault(ScanFaultCode.PART_NOT_UNDERSTOOD)),
        ("the code holds the field 10 twice", ScanFault(ScanFaultCode.FIELD_TWICE, "10")),
        ("the check digit of the device number is wrong; scan it again", ScanFault(ScanFaultCode.CHECK_DIGIT)),
        ("the code holds a day that does not exist", ScanFault(ScanFaultCode.NO_SUCH_DAY)),
        ("a lot or serial number has at most 20 characters", ScanFault(ScanFaultCode.TOO_LONG, "20")),
        (
            "the serial number may be glued to the lot; spell the lot as it is printed",
            ScanFault(ScanFaultCode.GLUED),
        ),
    ],
)
def test_faults_of_a_label_are_codes(text, fault):
    label = {
        "type": "ScanLabel",
        "gtin": None,
        "lot": "A4",
        "serial": None,
        "produced": None,
        "expiry": None,
        "faults": [text],
    }
    event = event_of(event_in_form_1({"type": "Option", "value": "x"}) | {"command": label})
    assert event.command == ScanLabel(lot="A4", faults=(fault,))


@pytest.mark.parametrize(
    "change",
    [
        lambda event: event | {"type": "command_spoken"},
        lambda event: event | {"type": "SystemExit"},
        lambda event: event | {"command": {"control": "affirm"}},
        lambda event: event | {"mood": "good"},
        lambda event: [event],
    ],
)
def test_what_was_no_event_of_form_1_is_refused(change):
    with pytest.raises(RecordError):
        event_of(change(event_in_form_1({"type": "Option", "value": "x"})))


def test_a_control_of_form_1_is_one_of_today():
    event = event_in_form_1({"type": "Option", "value": "x"})
    event["command"] = {"type": "ControlCommand", "control": "light_off"}
    assert event_of(event).command == ControlCommand(Control.LIGHT_OFF)
