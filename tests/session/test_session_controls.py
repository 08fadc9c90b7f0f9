"""Every command and every kind of event in every mode, held against the table in `controls_table`; and stop words,
gaps and the lamp where one line of code decides.

Sources: the laws of this project (DEVELOPERS.md), common practice, no source, unless named at the check.
"""

from decimal import Decimal
from operator import methodcaller

import pytest
from controls_table import BENEATH, COMMAND_ORDER, COMMANDS, LEGEND, NOT_DONE, PLACES, REFUSALS, SAME, to_the_end, wait
from events_table import EVENT_ORDER, EVENTS, LEADING, LEADING_ORDER
from procedure_files import LIGHT, write_files
from talking import Talk, lit_s, wall_at

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import STOP_CONTROLS, Control, ControlCommand
from handsfree.model.effects import Append, Priority, Say
from handsfree.model.events import ClockTicked, CommandSpoken, RejectionReason
from handsfree.model.facts import CommandRefused, CorrectionOpened, HoldSet, StepEntered, StepReviewed
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.open_items import OpenLateQuestion, OpenReading
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.model.refusals import Refusal
from handsfree.session.modes import LIES_ON, Mode
from handsfree.session.session import Session
from handsfree.session.visit import name_of
from handsfree.understanding.graphs import match
from handsfree.understanding.listening_graph import graph_for


def rows(text, order):
    """The table by place and column: codes."""
    table = {}
    for line in text.strip().splitlines()[1:]:
        place, *codes = line.split()
        table[place] = dict(zip(order, codes, strict=True))
    return table


COMMANDED, HAPPENED, LED = rows(COMMANDS, COMMAND_ORDER), rows(EVENTS, EVENT_ORDER), rows(LEADING, LEADING_ORDER)
COMMANDED = {name: row | LED[name] for name, row in COMMANDED.items()}
HAPPENINGS = {
    "tick": lambda talk: talk.send(ClockTicked(at_s=talk.now_s + 1, wall=wall_at(talk.now_s + 1))),
    "tone": lambda talk: talk.beep(),
    "microphone_lost": lambda talk: talk.lose("microphone"),
    "loudspeaker_lost": lambda talk: talk.lose("loudspeaker"),
    "device_back": lambda talk: talk.find("microphone"),
    "interruption": lambda talk: talk.crash(),
    "not_understood": lambda talk: talk.reject(RejectionReason.NOT_UNDERSTOOD),
    "too_noisy": lambda talk: talk.reject(RejectionReason.TOO_NOISY),
    "doubted_help": lambda talk: talk.say("help", doubted=True),
    "doubted_stop": lambda talk: talk.say("stop", doubted=True),
}


@pytest.fixture(scope="module")
def overdue(tmp_path_factory):
    light = LIGHT.replace('output_checked_on: "2026-11-02"', 'output_checked_on: "2020-11-02"')
    return load_bundle(str(write_files(tmp_path_factory.mktemp("overdue"), light=light)))


class Place:
    """A place, to come to again and again by the events that lead there."""

    def __init__(self, bundle, name):
        self.mode, self.beneath, walk = PLACES[name]
        self.talk = Talk(bundle, going_on=True)
        walk(self.talk)

    def again(self):
        """A talk of its own that stands there."""
        talk = Talk.__new__(Talk)
        talk.__dict__ |= self.talk.__dict__
        talk.session, talk.events, talk.history = Session(talk.bundle, going_on=True), [], []
        talk.effects = ()
        for event in self.talk.events:
            talk.send(event)
        return talk


def told(fact):
    """A fact in short: its kind, a refusal's reason, a hold's kind."""
    match fact:
        case CommandRefused(reason=Refusal(code=code)):
            return f"refused={code}"
        case HoldSet(hold=hold):
            return f"hold_set={hold}"
        case _:
            return fact.kind


def stated(code, place):
    """What a code of the table says of a place: facts and the mode afterwards."""
    if code in REFUSALS:
        return f"refused={REFUSALS[code]}", place.mode
    facts, mode = LEGEND[code]
    return facts, {SAME: place.mode, BENEATH: place.beneath}.get(mode, mode)


def came_of_it(talk):
    """What came of the last event: facts and the mode now."""
    return " ".join(told(effect.fact) for effect in talk.effects if isinstance(effect, Append)), talk.mode


def stands_at(session):
    """Name of the stage; a screen shows the late question in its place."""
    return name_of(session._visit.plan.stage(session._state.place), session._state.side)


def went_to(talk, before):
    """Where the visit stands by its facts: where it stood, if they say nothing of it."""
    moves = [
        effect.fact.stage
        for effect in talk.effects
        if isinstance(effect, Append) and isinstance(effect.fact, StepEntered | StepReviewed | CorrectionOpened)
    ]
    return moves[-1] if moves else before


def check(place, happen, code):
    """What came of one command or event, and what the table states of it."""
    talk = place.again()
    assert talk.mode == place.mode
    before = stands_at(talk.session)
    happen(talk)
    assert (talk.effects == ()) == (code == "0")
    if code == "hld":
        assert stands_at(talk.session) == "ring" != before
    else:
        assert stands_at(talk.session) == went_to(talk, before)
    return came_of_it(talk), stated(code, place)


@pytest.mark.parametrize("name", PLACES)
def test_every_command_in_every_mode(bundle, overdue, name):
    place = Place(overdue if name == "held_light" else bundle, name)
    pairs = {c.value: check(place, methodcaller("say", c), COMMANDED[name][c.value]) for c in Control}
    assert {control: pair[0] for control, pair in pairs.items()} == {
        control: pair[1] for control, pair in pairs.items()
    }


@pytest.mark.parametrize("name", PLACES)
def test_every_event_in_every_mode(bundle, overdue, name):
    place = Place(overdue if name == "held_light" else bundle, name)
    pairs = {what: check(place, happen, HAPPENED[name][what]) for what, happen in HAPPENINGS.items()}
    assert {what: pair[0] for what, pair in pairs.items()} == {what: pair[1] for what, pair in pairs.items()}


def test_the_table_states_every_pair(bundle):
    assert list(COMMANDED) == list(HAPPENED) == list(PLACES)
    assert {*COMMAND_ORDER, *LEADING_ORDER} == set(Control)
    assert set(EVENT_ORDER) == set(HAPPENINGS)
    assert sum(len(row) for row in COMMANDED.values()) >= 400
    stacks = {(mode, beneath) for mode, beneath, _ in PLACES.values()}
    assert {mode for mode, _ in stacks} == set(Mode)
    assert all(Mode(beneath) in LIES_ON[Mode(mode)] for mode, beneath in stacks if beneath is not None)
    asked = {Place(bundle, name).talk.step().kind for name, (mode, _, _) in PLACES.items() if mode == "asking"}
    assert asked == {step.kind for step in bundle.procedure.steps}
    used = {code for table in (COMMANDED, HAPPENED) for row in table.values() for code in row.values()}
    assert used == {*LEGEND, *REFUSALS}


@pytest.mark.parametrize("name", [name for name, (mode, _, _) in PLACES.items() if mode != "closed"])
def test_a_stop_word_is_a_stop_word_in_every_mode(bundle, overdue, name):
    # Law 5 of this project: it acts at once, in any state, also in doubt, and is said before anything else.
    place = Place(overdue if name == "held_light" else bundle, name)
    for control in STOP_CONTROLS - {Control.LIGHT_OFF}:
        for doubted in (False, True):
            talk = place.again()
            talk.say(control, doubted=doubted)
            (heard,) = talk.facts("stop_word_heard")[-1:]
            lit = place.mode in {"lit", "stray"} or name == "doubting_light"
            assert (heard.word, heard.mode, heard.while_lit) == (control.value, place.mode, lit)
            assert talk.mode in {"paused", "held"}
            assert not talk.session.snapshot.is_lit
            assert [effect.priority for effect in talk.effects if isinstance(effect, Say)] == [Priority.STOP]


# ---- stop words while the visit is paused ----


@pytest.mark.parametrize(
    "name", ["paused", "waiting", "waiting_read_back", "noting_paused", "doubting_paused", "end_role"]
)
@pytest.mark.parametrize("word", ["stop", "hot", "pain"])
def test_a_stop_word_is_not_ignored_while_paused(bundle, name, word):
    talk = Place(bundle, name).again()
    before = len(talk.facts("stop_word_heard"))
    talk.say(word)
    assert talk.mode == "paused"
    assert [fact.word for fact in talk.facts("stop_word_heard")[before:]] == [word]
    assert talk.said == "Stopped. Say resume, or end the visit."
    # Whatever lay on the pause is broken off; what it interrupted comes back.
    talk.say("resume")
    assert talk.mode == ("reading_back" if name == "waiting_read_back" else "asking")


@pytest.mark.parametrize("name", ["paused_after_light", "waiting_warmth", "waiting_late"])
@pytest.mark.parametrize("word", ["hot", "pain"])
@pytest.mark.parametrize("on_it", [(), ("take_note",), ("override",)])
def test_hot_while_paused_after_light_holds_the_visit(bundle, name, word, on_it):
    # Heat may peak after the source stops: J Bone Joint Surg Am 2007;89:2369.
    talk = Place(bundle, name).again()
    for control in on_it:
        talk.say(control)
    talk.say(word)
    assert talk.mode == "held"
    assert [(fact.hold, fact.grounds) for fact in talk.facts("hold_set")] == [("red", Grounds(HeatWordSaid(word)))]
    assert "Light off. Lift it away. Look at the skin." in talk.said
    talk.say("resume")
    assert (talk.mode, talk.kinds) == ("held", ["command_refused"])


@pytest.mark.parametrize("name", ["waiting_warmth", "paused_after_light", "noting_paused_light"])
def test_a_pause_after_light_outlasts_a_break_and_the_position_is_checked_when_it_ends(bundle, name):
    noting = name == "noting_paused_light"
    talk = Place(bundle, "paused_after_light" if noting else name).again()
    if noting:
        talk.say("take_note")
    talk.crash()
    assert talk.mode == "paused"
    talk.say("resume")
    assert talk.mode == "reconfirm"
    assert talk.said == "Light off? Check position and warmth again. Then say affirmative."
    talk.affirm()
    # A zone that has had its seconds is not lit again.
    assert talk.said == (
        "Zone: back part. Say light on." if name == "waiting_warmth" else "Again: Zone: front part. Say light on."
    )


# ---- values that are missing ----


@pytest.mark.parametrize(
    ("step", "field", "values"),
    [
        ("nerve_before@right", "touch", {"touch": NOT_DONE, "refill": Decimal(1)}),  # answered before the acceptance
        ("nerve_before@left", "refill", {"touch": "intact", "refill": NOT_DONE}),  # beside the one that was accepted
        ("nerve_before@left", "touch", {"touch": NOT_DONE, "refill": Decimal(1)}),  # the same one, said anew
    ],
)
def test_accepting_one_gap_accepts_none_that_comes_later(talk, step, field, values):
    talk.go_to("nerve_before@left")
    talk.give(touch=NOT_DONE, refill=Decimal(1))
    talk.affirm()
    to_the_end(talk)
    talk.override()
    accepted = OpenReading("nerve_before@left", "touch")
    assert [fact.gaps for fact in talk.facts("gaps_accepted")] == [(accepted,)]
    assert talk.session.open_items == (OpenLateQuestion(),)  # which gives time to go back
    while talk.at != step:
        talk.say("previous_step")
        assert talk.kinds == ["step_reviewed"]
    talk.say("correction")
    talk.give(**values)
    talk.affirm()
    later = OpenReading(step, field)
    assert later in talk.session.open_items
    wait(130)(talk)
    talk.give(warmth="cool")
    assert (talk.outcome, talk.mode) == (None, "open_items")
    assert [item for item in talk.facts("close_refused")[-1].open_items if isinstance(item, OpenReading)] == [later]
    talk.override()
    assert talk.facts("gaps_accepted")[-1].gaps == (later,)
    assert talk.outcome == "completed_with_overrides"


# ---- light on, said twice ----


def say_light_on(talk, to_s):
    """Say "light on" so that its last word ends just then, and is understood at once."""
    talk.now_s = to_s
    heard = Hypothesis(("light", "on"), (), to_s - 0.5, to_s, "test")
    command = ControlCommand(Control.LIGHT_ON)
    talk.send(CommandSpoken(at_s=to_s, wall=wall_at(to_s), command=command, heard=heard, probability=0.9))


@pytest.mark.parametrize(
    ("after_s", "repeated"), [(0.0, True), (1.0, True), (1.875, True), (2.0, True), (2.0078125, False), (3.0, False)]
)
def test_light_on_is_the_same_one_for_two_seconds(bundle, after_s, repeated):
    # Two seconds: chosen in `handsfree.exposure.ledger`, no source. Times are exact in binary, as is the limit.
    talk = Place(bundle, "expose").again()
    on_s = 1024.0
    say_light_on(talk, on_s)
    assert talk.facts("light_turned_on")[-1].counted_from_s == on_s
    say_light_on(talk, on_s + after_s)
    assert talk.mode == "lit"
    runs = [(fact.zone, fact.end) for fact in talk.facts("light_turned_off")]
    if repeated:
        assert talk.kinds == ["light_on_repeated"]
        assert runs == []
        assert lit_s(talk, "front") == after_s  # counted on from the first
    else:
        # The light must have been off in between: nothing is credited to a run whose end nobody heard.
        assert talk.kinds == ["light_turned_off", "zone_totalled", "light_turned_on"]
        assert runs == [("front", "off_missed")]
        assert talk.facts("light_turned_off")[-1].possible_to_s == pytest.approx(on_s + after_s, abs=5e-4)
        assert lit_s(talk, "front") == 0


@pytest.mark.parametrize("name", PLACES)
def test_a_bare_yes_or_no_is_taken_only_where_it_answers_the_question(bundle, name):
    """After something was said back, and where a step asks whether something was done; never where it lifts a hold, or
    where the patient was told something, who says yes to that."""
    wanted = Place(bundle, name).talk.session.wanted
    graph = graph_for(wanted)
    answers = PLACES[name][0] in ("reading_back", "checking", "doubting") or name in ("confirm", "corrected")
    for words in (("yes",), ("no",)):
        found = match(graph, words)
        assert (found is not None) is answers
        assert found is None or found.tags[0] in ("control:affirm", "control:negate")
