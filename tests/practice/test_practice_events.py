"""Events of a scenario: when they happen, who cues them, how they are played; what a person's own values are worth."""

import io
from dataclasses import dataclass, field
from types import SimpleNamespace

import pytest

from handsfree.cli import main
from handsfree.clock import ManualClock
from handsfree.errors import ScriptError, UsageError
from handsfree.model.facts import ReadingProposed, ReadingRefused, ScenarioEventHappened
from handsfree.model.readings import SpelledText
from handsfree.practice.event_injection import EventInjector
from handsfree.practice.points_form import OWN_TABLE, load_points
from handsfree.practice.scenario import Moment
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.practice.trainee_session import PlayedStage, cues_from
from handsfree.record.verify import verify
from handsfree.session.snapshot import Snapshot, ZoneView


@dataclass
class Room:
    """A stage that notes what is played."""

    quiet: bool = True
    said: list[tuple[str, str]] = field(default_factory=list)
    noises: list[tuple[str, float]] = field(default_factory=list)

    def overhear(self, who, text):
        self.said.append((who, text))
        return 1.5

    def make_noise(self, noise, seconds):
        self.noises.append((noise.kind, seconds))


class Standing:
    """A session that stands where a test says."""

    closed = False

    def __init__(self):
        self.facts = []
        self.at("session_kind")

    def at(self, step, mode="asking", lit=None):
        zones = tuple(ZoneView(zone, zone, 0.0, 5.0, False, zone == lit) for zone in ("fracture_side", "outer_edge"))
        snapshot = Snapshot(step, "", "before", mode, "", "", is_lit=lit is not None, zones=zones)
        self.session = SimpleNamespace(snapshot=snapshot)

    def note(self, fact):
        self.facts.append(fact)


def playing(scenario, **changes):
    standing, room = Standing(), Room()
    return EventInjector(scenario.model_copy(update=changes), standing, room), standing, room


@pytest.fixture(scope="module")
def hot_zone():
    return load_scenario("hot-zone").scenario


def moments(scenario, **changes):
    """The steps and times at which the events of a scenario happen, tried at every step and tenth of a second."""
    injector, standing, _ = playing(scenario, **changes)
    now_s, found = 0.0, {}
    for step in ("jewelry", "swelling", "device_lot", "power_before@right", "pain_before@right"):
        standing.at(step)
        begun_s = now_s
        for _ in range(10):
            injector.poll(now_s)
            for one in injector.fired:
                found.setdefault(one.event.id, (step, round(now_s - begun_s, 1)))
            now_s = round(now_s + 0.1, 1)
    return found


def test_the_same_seed_draws_the_same_moments(hot_zone):
    assert moments(hot_zone) == moments(hot_zone)
    assert set(moments(hot_zone)) == {"assistant_talks", "colleague_calls"}


def test_other_seeds_draw_other_moments(hot_zone):
    assert len({tuple(sorted(moments(hot_zone, seed=seed).items())) for seed in range(12)}) > 3


def test_an_event_draws_the_same_when_another_one_is_left_out(hot_zone):
    alone = tuple(event for event in hot_zone.events if event.id == "colleague_calls")
    assert moments(hot_zone, events=alone)["colleague_calls"] == moments(hot_zone)["colleague_calls"]


def test_an_event_of_a_zone_waits_until_that_zone_is_lit(hot_zone):
    injector, standing, room = playing(hot_zone)
    for now_s, lit in ((0.0, None), (1.0, "fracture_side"), (5.0, "outer_edge"), (6.0, "outer_edge")):
        standing.at("expose_open", "lit" if lit else "asking", lit)
        injector.poll(now_s)
    assert room.said == []
    injector.poll(8.0)
    assert room.said == [("patient", "hot")]


def test_a_patient_who_is_not_heard_says_it_again_until_the_light_is_off(hot_zone):
    injector, standing, room = playing(hot_zone)
    standing.at("expose_open", "lit", "outer_edge")
    for now_s in range(30):
        injector.poll(float(now_s))
    assert len(room.said) == 4  # once, and three times more as the scenario says
    injector, standing, room = playing(hot_zone)
    standing.at("expose_open", "lit", "outer_edge")
    for now_s in range(4):
        injector.poll(float(now_s))
    standing.at("expose_open", "held")
    injector.poll(4.0)
    standing.at("expose_open", "lit", "outer_edge")
    for now_s in range(5, 30):
        injector.poll(float(now_s))
    assert room.said == [("patient", "hot")]


def test_an_event_at_a_time_happens_within_its_span(hot_zone):
    event = hot_zone.events[0].model_copy(update={"at": Moment(between_s=(20.0, 40.0))})
    happened = set()
    for seed in range(6):
        injector, _, _ = playing(hot_zone, events=(event,), seed=seed)
        for now_s in range(60):
            injector.poll(float(now_s))
        happened |= {one.at_s for one in injector.fired}
    assert all(20 <= at_s <= 41 for at_s in happened)
    assert len(happened) > 2


def test_nothing_happens_while_the_tool_speaks(hot_zone):
    injector, _, room = playing(hot_zone)
    injector.cue("t")
    room.quiet = False
    injector.poll(1.0)
    assert room.said == []
    room.quiet = True
    injector.poll(2.0)
    assert [who for who, _ in room.said] == ["assistant"]


def test_a_trainer_cues_an_event_once_by_key_or_name(hot_zone):
    injector, standing, _ = playing(hot_zone)
    assert injector.cue("h")
    assert not injector.cue("too_hot")
    assert not injector.cue("z")
    injector.poll(1.0)
    assert standing.facts[0].cued is True
    assert not injector.cue("h")


def test_noise_is_made_for_as_long_as_the_scenario_says():
    injector, _, room = playing(load_scenario("numb-finger").scenario)
    injector.cue("ward_round")
    injector.poll(1.0)
    assert room.noises == [("babble", 12.0)]


def test_cues_come_from_a_file_line_by_line(tmp_path):
    path, cued = tmp_path / "cues", []
    path.write_text("h\n\n t \n")
    cues_from(path, cued.append).join(timeout=10)
    assert cued == ["h", "t"]


def test_cues_from_nowhere_are_refused(tmp_path):
    with pytest.raises(UsageError, match="mkfifo"):
        cues_from(tmp_path / "none", print)


def test_players_speak_from_the_loudspeaker(hot_zone):
    pytest.importorskip("numpy", reason="sound needs the speech packages")
    from datetime import UTC, datetime

    mixed = []
    player = SimpleNamespace(speaking=False, mix=mixed.append)
    clock = ManualClock(datetime(2026, 11, 25, tzinfo=UTC))
    heat = tuple(event for event in hot_zone.events if event.id == "too_hot")
    stage = PlayedStage(hot_zone.model_copy(update={"events": heat}), player, clock)
    seconds = stage.overhear("patient", "hot")
    assert 0.1 < seconds < 2
    assert not stage.quiet
    clock.sleep_until(seconds + 0.1)
    assert stage.quiet
    player.speaking = True
    assert not stage.quiet
    noise = load_scenario("numb-finger").scenario.events[0].noise
    stage.make_noise(noise.model_copy(update={"kind": "pink"}), 0.5)
    assert [round(one.duration_s, 1) for one in mixed[1:]] == [0.5]
    # The noise of the room is kept up: played again as soon as it is over, and not before.
    stage.keep_noise(noise.model_copy(update={"kind": "pink"}))
    stage.poll()
    stage.poll()
    assert len(mixed) == 3
    clock.sleep_until(clock.monotonic_s() + mixed[2].duration_s)
    stage.poll()
    assert mixed[3] is mixed[2]


LINES = """practice session
l 3
yes
window clean, battery running low, cable intact
yes
correction
window clean, battery charged, cable intact
yes
operator protected, everyone else protected
yes
8.2
yes
first 47, second 51
yes
output within range, label dated
yes
"""
"""A person who does all of it, and takes 47 where the case says 48."""


def scored(tmp_path, monkeypatch, lines):
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    folder = tmp_path / "record"
    arguments = ["--scenario", "low-battery", "--record", str(folder), "--typed", "--quiet"]
    main(["practice", "light-output-check", *arguments])
    return score(verify(folder).record, load_points())


def test_a_wrong_value_that_stays_costs_points(tmp_path, monkeypatch):
    found = scored(tmp_path, monkeypatch, LINES)
    item = next(item for item in found.items if item.row == "value")
    assert (item.got, item.possible) == (16, 20)
    assert item.note == "output.first: 47 instead of 48"
    (mark,) = item.marks
    said = next(one for one in verify(tmp_path / "record").record.facts if one.seq == mark.seq)
    assert (said.fact.step, said.fact.field) == ("output", "first")
    battery = next(one for one in found.reactions if one.event.id == "battery_low")
    assert battery.verdict == "right"
    assert not found.faults


def test_a_wrong_value_that_is_put_right_costs_less(tmp_path, monkeypatch):
    again = "output within range"
    lines = LINES.replace(again, f"correction\nfirst 48, second 51\nyes\n{again}")
    item = next(item for item in scored(tmp_path, monkeypatch, lines).items if item.row == "value")
    assert (item.got, item.note) == (19, "output.first put right later")


@pytest.mark.parametrize(("times", "rules", "lost"), [(1, [], 2), (2, [], 3), (3, ["kept_pushing"], 3)])
def test_a_refused_next_step_costs_two_points_and_a_pattern_of_them_fails(tmp_path, monkeypatch, times, rules, lost):
    # Former misjudgement: one failed the attempt whatever the points, and points were had for the order that is forced.
    # Of 20 points that could be won at most 15 per cent are lost by it.
    found = scored(tmp_path, monkeypatch, LINES.replace("8.2\n", "next step\n" * times + "8.2\n"))
    assert [fault.rule for fault in found.faults] == rules
    item = next(item for item in found.items if item.row == "pushing")
    assert (item.got, item.possible, len(item.marks)) == (-lost, 0, times)


def test_nothing_is_won_by_what_the_tool_makes_everybody_do(tmp_path, monkeypatch):
    # Former misjudgement: 24 of 54 points were for required steps and their order.
    found = scored(tmp_path, monkeypatch, LINES)
    assert {item.row for item in found.items if item.possible} == {"reaction", "value"}


@pytest.mark.parametrize(
    ("wrong", "rule"), [(("l 3\n", "l 4\n"), "wrong_identity"), (("8.2\n", "8.3\n"), None)], ids=["code", "length"]
)
def test_a_wrong_value_weighs_by_what_it_decides(tmp_path, monkeypatch, wrong, rule):
    # Former misjudgement: a wrong code of the lamp cost as much as a length that is a millimetre off.
    found = scored(tmp_path, monkeypatch, LINES.replace(*wrong))
    assert [fault.rule for fault in found.faults] == ([rule] if rule else [])
    assert next(item for item in found.items if item.row == "value").note


def test_overriding_a_stop_that_wants_a_new_battery_fails(tmp_path, monkeypatch):
    again = "correction\nwindow clean, battery charged, cable intact\nyes\n"
    lines = LINES.replace(again, "override\ncast technician\ntechnical decision\naffirmative\n")
    found = scored(tmp_path, monkeypatch, lines)
    assert [fault.rule for fault in found.faults] == ["event_wrong"]
    assert "overridden, which was not the way" in found.faults[0].text


def test_help_beyond_what_is_free_costs_one_point_however_much_it_was(tmp_path, monkeypatch):
    lines = LINES.replace("l 3\n", "say again\nwhat can i say\nsay again\nsay again\nl 3\n")
    item = next(item for item in scored(tmp_path, monkeypatch, lines).items if item.row == "prompts")
    # Former misjudgement: each one cost a point, so three questions cost as much as a number that stays wrong.
    assert (item.got, item.possible, item.note) == (-1, 0, "4 needed, 2 are free")


def test_another_table_of_points_is_named_in_the_score(tmp_path, monkeypatch):
    table = tmp_path / "points.yaml"
    text = OWN_TABLE.read_text().replace("id: practice-points", "id: mine")
    table.write_text(text.replace("pass_percent: 80", "pass_percent: 100"))
    monkeypatch.setattr("sys.stdin", io.StringIO(LINES))
    main(
        [
            *("practice", "light-output-check", "--scenario", "low-battery", "--typed", "--quiet"),
            *("--record", str(tmp_path / "record"), "--points", str(table)),
        ]
    )
    found = score(verify(tmp_path / "record").record, load_points(table))
    assert found.table == "mine 0.4.0"
    assert not found.faults
    assert not found.passed


def test_a_faulty_table_of_points_names_its_lines(tmp_path):
    table = tmp_path / "points.yaml"
    table.write_text(OWN_TABLE.read_text().replace("zone: {points: 4, over: 2,", "zone: {points: many,"))
    with pytest.raises(ScriptError) as refused:
        load_points(table)
    assert "points.yaml:24: zone.points" in str(refused.value)
    assert "zone.over: is missing" in str(refused.value)


def test_talk_of_players_is_no_answer_to_a_typed_session(tmp_path, monkeypatch):
    # The step takes spelled codes, and typed letters are letters: only stop words of players may act.
    monkeypatch.setattr("sys.stdin", io.StringIO("practice session\n!b\nl 3\n"))
    folder = tmp_path / "record"
    main(["practice", "light-output-check", "--scenario", "low-battery", "--record", str(folder), "--typed", "--quiet"])
    record = verify(folder).record
    assert [one.fact.event for one in record.of(ScenarioEventHappened)] == ["battery_low"]
    assert record.of(ReadingRefused) == ()
    codes = [one.fact.value for one in record.of(ReadingProposed) if one.fact.field == "code"]
    assert codes == [SpelledText("L3")]


def test_the_time_of_a_person_s_session_begins_at_zero(tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("practice session\n"))
    folder = tmp_path / "record"
    main(["practice", "light-output-check", "--scenario", "low-battery", "--record", str(folder), "--typed", "--quiet"])
    assert verify(folder).record.events[0].at_s < 5


def test_at_a_microphone_players_speak_from_the_loudspeaker_and_are_on_record(tmp_path, monkeypatch, capsys):
    pytest.importorskip("numpy", reason="sound needs the speech packages")
    from contextlib import contextmanager

    import handsfree.application.equipment as live
    from handsfree.application.terminal_outputs import TerminalOutputs
    from handsfree.display import ConversationView

    mixed = []

    class Devices:
        """Devices without sound: a learner who types, a loudspeaker that notes what it plays."""

        sound = SimpleNamespace(speaking=False, mix=mixed.append)

        def __init__(self, clock, console):
            self.outputs = TerminalOutputs(ConversationView(console), clock)

        def run(self, runner, clock):
            for line in LINES.splitlines():
                runner.tick()
                runner.type(line)

    @contextmanager
    def equipment(settings, clock, console, *, room):
        yield Devices(clock, console)

    told = []
    monkeypatch.setattr("handsfree.commands.practice._say", lambda sentences, config, voice: told.append(sentences))
    monkeypatch.setattr(live, "equipment", equipment)
    folder = tmp_path / "record"
    main(["practice", "light-output-check", "--scenario", "low-battery", "--record", str(folder), "--quiet"])
    assert "PRACTICE - Light check" in capsys.readouterr().out
    record = verify(folder).record
    said = [one.fact.say for one in record.of(ScenarioEventHappened)]
    assert said[0] == "Its battery sign is blinking."
    assert len(mixed) == len(said)
    assert record.header.practice is True
    # Right after, what there is to work on is said: this learner takes 47 where the case says 48.
    (sentences,) = told
    assert sentences[0] == "Practice is over. One thing to work on."
