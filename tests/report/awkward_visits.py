"""Twenty-odd awkward visits, each worked through the real session by what is said.

All people, readings and devices are invented.
"""

from awkward_person import SPOKEN, Case, Person, played

from handsfree.application.amended_values import amendment_rules
from handsfree.application.baseline import read_baseline
from handsfree.clock import ManualClock
from handsfree.model.events import CommandDoubted
from handsfree.record.amendments import amend, attest, change_of
from handsfree.record.contents import Amended
from handsfree.record.signing import installation_key
from handsfree.record.verify import verify
from handsfree.stamps import stamp

NERVES = "neurovascular-check"


def entry_of(folder, step, name):
    found = (one for one in verify(folder).record.readings if (one.stands.step, one.stands.field) == (step, name))
    return next(one.recorded.seq for one in found)


def later(seconds):
    from report_visits import START

    clock = ManualClock(START)
    clock.sleep_until(20_000 + seconds)
    return clock


def corrected_later(folder, step, name, value, *, judged=True, at_s=0, member="value"):
    entry = entry_of(folder, step, name)
    rules = amendment_rules(folder)
    amend(
        folder,
        entry,
        change_of(folder, entry, member, value),
        by="surgeon",
        reason="read off the wrong line",
        value_fault=rules.value_fault,
        judge=rules.judge if judged else None,
        clock=later(at_s),
    )


def signed(folder, at_s=500, because=""):
    key = installation_key(folder.parent / f"{folder.name}.key")
    attest(folder, key, by="surgeon", open_items_because=because, clock=later(at_s))


HOT = {"outer_edge": [(1, "hot"), (3, "light off")]}


def hot_then_lifted(folder):
    played(Case(lit=HOT), folder)


def hot_then_ended(folder):
    played(Case(lit=HOT, held=("end the visit",), override=("surgeon", "clinical decision", "sierra two")), folder)


def hot_and_nobody_said_off(folder):
    lit = {"outer_edge": [(1, "hot")]}
    played(Case(lit=lit, held=("end the visit",), override=("surgeon", "clinical decision", "sierra two")), folder)


def over_target(folder):
    played(Case(lit={"fracture_side": [(61, "light off")]}), folder)


def zone_left_short(folder):
    played(Case(lit=HOT, held=("leave this zone",)), folder)


def cut_in_the_light(folder):
    person = Person(Case(until="expose_open"), folder)
    with person.journal:
        person.work()
        person.wait(0.4)
        person.say("light on")
        person.wait(3.5)


def broken_off_in_the_light_and_resumed(folder):
    cut_in_the_light(folder)
    case = Case()
    person = Person.going_on(case, folder)
    with person.journal:
        person.strap_off = False
        person.work()


def painful_afterwards(folder):
    played(Case(late_heat=("pain", "warm"), held=("override",)), folder)


def pain_in_the_light_and_more_at_rest(folder):
    lit = {"knuckle_part": [(2, "pain"), (2, "light off")]}
    played(Case(lit=lit, override=("surgeon", "senior agrees", "sierra two")), folder)


RED = "pulse absent refill one point five color usual temperature warm"
FINE = "pulse present refill one point five color usual temperature warm"


PART = "pulse not done refill one point five color usual temperature warm"
TOUCH = "median intact ulnar intact radial intact"
"""Shares a question with the pulse: asked for by itself where nobody has said it in one breath with the pulse."""


def red_finding_overridden(folder):
    instead = {"circulation_after@right": (RED,), "sensation_after@right": (TOUCH,)}
    played(Case(instead=instead, override=("surgeon", "senior agrees", "sierra two")), folder)


def red_finding_misheard(folder):
    instead = {"circulation_before@right": (RED, FINE), "sensation_before@right": (TOUCH,)}
    played(Case(instead=instead, held=("correction",)), folder)


def stop_value_answered_again(folder):
    bare = "operator protected patient missing everyone else protected"
    dressed = "operator protected patient protected everyone else protected"
    played(Case(instead={"eye_protection": (bare, dressed)}, held=("correction",)), folder)


def missing_values_accepted(folder):
    instead = {"circulation_after@right": (PART,), "sensation_after@right": (TOUCH,), "open_items": ("override",)}
    played(Case(instead=instead, override=("surgeon", "clinical decision", "sierra two")), folder)


def waited_and_stopped_without_light(folder):
    def wait_long(person):
        person.say("wait")
        person.wait(95)

    def stop_short(person):
        person.say("stop")
        person.wait(12)

    played(Case(instead={"jewelry": (wait_long,), "swelling": (stop_short,)}), folder)


def notes_read_and_unread(folder):
    def note(words):
        def said(person):
            for one in ("take note", words, "end note"):
                person.wait(1)
                person.say(one)

        return said

    instead = {"jewelry": (note("ring cut off with pliers"),), "padding": (note("padding doubled at the ulna"),)}
    played(Case(instead=instead), folder)
    first, second = verify(folder).record.notes
    amend(folder, first.recorded.seq, Amended(verified=True), by="surgeon", reason="read", clock=later(0))
    changed = Amended(text="padding doubled at the ulna tip")
    amend(folder, second.recorded.seq, changed, by="surgeon", reason="misheard", clock=later(1))


def amended_to_red_after_signing(folder):
    played(Case(), folder)
    signed(folder, at_s=0)
    corrected_later(folder, "circulation_after", "pulse", "absent", at_s=10)


def amended_and_judged_by_nobody(folder):
    played(Case(), folder)
    corrected_later(folder, "circulation_after", "refill", "2.4", judged=False)
    corrected_later(folder, "position", "wrist", "20", at_s=10)
    signed(folder)


def amended_so_that_a_step_should_not_count(folder):
    played(Case(), folder)
    corrected_later(folder, "care_passes", "next", "home")


def heard_with_doubt(folder):
    played(Case(scores={"circumference": 0.62}, doubted=("swelling", "device_condition")), folder, clips=True)


def all_typed(folder):
    played(Case(engine="typed"), folder)


def practice(folder):
    played(Case(first="practice session", lit=HOT, engine="typed"), folder, patient=None, practice=True)


def cried_in_the_light(folder):
    lit = {"outer_edge": [(1, lambda person: cry(person)), (3, "light off")]}
    played(Case(lit=lit, cried="affirmative"), folder)


def cry(person):
    from handsfree.model.commands import Control, ControlCommand
    from handsfree.model.hypotheses import Hypothesis

    now_s = person.clock.monotonic_s()
    heard = Hypothesis(("ow", "it", "burns"), (), now_s, now_s, SPOKEN, free_text="ow it burns")
    wall = stamp(person.clock.wall())
    command = ControlCommand(Control.CRY)
    person.handed(CommandDoubted(at_s=now_s, wall=wall, command=command, heard=heard, probability=0.4))


def light_where_none_was_permitted(folder):
    def stray(person):
        person.say("light on")
        person.wait(2.5)
        person.say("light off")

    played(Case(instead={"jewelry": (stray,)}), folder)


def microphone_lost_in_the_light(folder):
    def lose(person):
        person.lost("microphone")
        person.wait(4)
        person.returned("microphone")

    lit = {"outer_edge": [(2, lose), (2, "light off")]}
    played(Case(lit=lit), folder)


def much_skipped_and_ended_early(folder):
    def end(person):
        person.say("end the visit")

    played(
        Case(
            instead={"padding": ("skip this step",), "firmness": (end,)},
            override=("hand therapist", "clinical decision", "sierra two"),
        ),
        folder,
    )


def of_another_patient(folder):
    earlier = folder.parent / f"{folder.name}-earlier"
    played(Case(script=NERVES, patient="W-20077"), earlier)
    from handsfree.definition.loader import load_bundle

    baseline = read_baseline(earlier, load_bundle(NERVES), meant=True)
    played(Case(script=NERVES), folder, baseline=baseline)


def whole(folder):
    played(Case(), folder)
    signed(folder)


AWKWARD = {
    one.__name__: one
    for one in (
        hot_then_lifted,
        hot_then_ended,
        hot_and_nobody_said_off,
        over_target,
        zone_left_short,
        cut_in_the_light,
        broken_off_in_the_light_and_resumed,
        painful_afterwards,
        pain_in_the_light_and_more_at_rest,
        red_finding_overridden,
        red_finding_misheard,
        stop_value_answered_again,
        missing_values_accepted,
        waited_and_stopped_without_light,
        notes_read_and_unread,
        amended_to_red_after_signing,
        amended_and_judged_by_nobody,
        amended_so_that_a_step_should_not_count,
        heard_with_doubt,
        all_typed,
        practice,
        cried_in_the_light,
        light_where_none_was_permitted,
        microphone_lost_in_the_light,
        much_skipped_and_ended_early,
        of_another_patient,
        whole,
    )
}
