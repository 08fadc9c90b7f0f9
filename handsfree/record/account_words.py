"""The account of a visit in words, the same wherever it is told. Pure.

Reasons are put into words by whoever knows the sentences; roles and reasons of people by the phrases of the procedure.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import assert_never

from handsfree.model.approval import Approval, ApprovalState
from handsfree.model.facts import NoteTaken, ReadingAmended, SecondPersonConfirmed, StatedReading, StepWithdrawn
from handsfree.model.light import RunEnd, ZoneStanding
from handsfree.model.open_items import (
    OpenHold,
    OpenItem,
    OpenLateQuestion,
    OpenLightOff,
    OpenReading,
    OpenStep,
    OpenTimer,
    OpenZone,
)
from handsfree.model.reasons import Grounds
from handsfree.record.account_parts import (
    AfterStop,
    Attested,
    HoldAccount,
    OverrideAccount,
    OverrideOf,
    RunAccount,
    StopAccount,
    StopKind,
    ZoneAccount,
)
from handsfree.record.carried_procedure import PROCEDURE_COPY
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Amendment, RecordedReading, TurnedStep
from handsfree.record.display_text import capital, clock_text, duration_text, percent, plain, tenths
from handsfree.record.display_values import (
    amended_flag,
    changed,
    class_anew,
    display_value,
    shown_value,
    stray_lines,
    turned_words,
    zone_name,
)
from handsfree.record.moments import Moments
from handsfree.record.visit_account import VisitAccount

ReasonWords = Callable[[Grounds | OpenItem], str]
"""Puts a reason into words."""
NOBODY_APPROVED = "Not approved by anybody"
_MOST_NAMED = 5
"""How many things of a kind are named in one line. Chosen here, no source."""
_HEAT = {True: "it was hot or painful", False: "neither hot nor painful, it was answered", None: "nobody answered"}
_AFTER = {
    AfterStop.WENT_ON: "the visit went on",
    AfterStop.ENDED: "the visit was ended early",
    AfterStop.UNKNOWN: "what came of it is not on record",
}
_OUTCOMES = {
    "completed": "Completed",
    "completed_with_overrides": "Completed with overrides",
    "stopped": "Ended early",
    "not closed": "Not closed",
}


@dataclass(frozen=True, slots=True)
class AccountWords:
    """Puts parts of an account into words.

    Attributes:
        account: The account.
        reason: Puts reasons into words.
        phrases: What the procedure calls roles and reasons.
    """

    account: VisitAccount
    reason: ReasonWords
    phrases: CodePhrases = CODES_ALONE

    def outcome(self) -> str:
        """How the visit ended."""
        return _OUTCOMES[self.account.outcome]

    def attestation(self) -> str:
        """Whether somebody vouches for the record."""
        match self.account.attested:
            case Attested.NOT:
                return "Not attested"
            case Attested.AMENDED_SINCE:
                return "Amended since it was attested"
            case Attested.ATTESTED:
                return f"Attested by {self.account.record.attestations[-1].by}"

    def statuses(self) -> tuple[str, ...]:
        """What must be known before anything else is read: practice, outcome, approval, typing, attestation."""
        account = self.account
        told = ["Practice, no patient"] if account.practice else []
        if account.record.misses_carried:
            told.append(f"{PROCEDURE_COPY} is missing: roles and reasons are shown by their codes")
        told.append(self.outcome())
        told += [approval] if (approval := self.approval()) else []
        if account.all_typed:
            told.append("All values typed")
        elif account.typed:
            told.append(f"{len(account.typed)} of {len(account.standing)} values typed")
        told += [self.second(one.fact) for one in account.seconds]
        return (*told, self.attestation())

    def second(self, fact: SecondPersonConfirmed) -> str:
        """Who confirmed a step as the second person."""
        return f"Second person at {self._place(fact.stage)}: {self.person(fact.role, fact.code)}"

    def approval(self) -> str:
        """Whether what the visit ran by was approved, by whom, or why that does not count; "" where that is unknown."""
        approval = self.account.approval
        if approval is None:
            return NOBODY_APPROVED if self.account.unapproved else ""
        return approval_words(approval)

    def not_approved(self) -> str:
        """A line of its own about what is not approved; "" where all is."""
        names = "; ".join(self.account.unapproved)
        stands = "Approved by nobody" if self.approval() == NOBODY_APPROVED else self.approval()
        return f"{stands}, not for clinical use: {names}" if names else ""

    def lasted(self) -> str:
        """How long it took, with and without breaks."""
        account = self.account
        told = duration_text(account.lasted_s)
        if account.away_s:
            away = duration_text(account.away_s)
            total = duration_text(account.lasted_s + account.away_s)
            told = f"{total} with a break of {away}, {told} without"
        return f"{told} (of it {duration_text(account.waited_s)} waiting)" if account.waited_s else told

    def _place(self, stage: str) -> str:
        """What a stage is called."""
        return self.phrases.names.stage(stage)

    def _asked(self, reading: StatedReading) -> str:
        """What a reading is of: its step and its label, or that alone where it tells by itself."""
        names = self.phrases.names
        if names.is_alone(reading.stage, reading.field):
            return names.reading(reading.stage, reading.field)
        return f"{self._place(reading.stage)}, {reading.label}"

    def person(self, role: str, code: str | None) -> str:
        """Who answered for something."""
        return self.phrases.person(role, code)

    def stop(self, stop: StopAccount) -> str:
        """What stopped the visit or its light, and what became of it."""
        return f"{self._cause(stop)}; {self.became(stop)}"

    def _cause(self, stop: StopAccount) -> str:
        zone = zone_name(self.account.record, stop.zone) if stop.zone else ""
        match stop.kind:
            case StopKind.FINDING:
                return self._held(stop)
            case StopKind.BREAK:
                return self._cut(stop.run, zone)
            case StopKind.WORD | StopKind.CRY:
                at = f" at {clock_text(stop.heard.spoken_from_s)}" if stop.heard is not None else ""
                cry = ", taken for a cry," if stop.kind is StopKind.CRY else ""
                said = f"“{plain(stop.words)}”{cry}{at}"
                if stop.run is not None:
                    said += f" ended the light on {zone} after {tenths(stop.run.credited_s)} s"
                    said += "" if stop.run.off_said else ", nobody said light off"
                elif stop.while_lit:
                    said += " ended light outside a zone"
                else:
                    said += f", {self._place(stop.stage)}" if stop.stage else ""
                return f"{said}; {_HEAT[stop.heat]}" if stop.kind is StopKind.CRY else said

    def _held(self, stop: StopAccount) -> str:
        assert stop.hold is not None  # noqa: S101 - a finding stops by its hold
        red = "Red finding, held" if stop.hold.hold == "red" else "Held"
        return f"{red} at {self._place(stop.stage)}: {self.reason(stop.hold.grounds.unnumbered)}"

    def _cut(self, run: RunAccount | None, zone: str) -> str:
        assert run is not None  # noqa: S101 - a break cuts a run
        if run.end is None:
            return (
                f"The record ends with the light on, {zone}: {tenths(run.credited_s)} s up to the last sign of life, "
                "it may have been longer"
            )
        off = "light off was said after it" if run.off_said else "when it went off is not on record"
        return f"A break cut the light on {zone} after {tenths(run.credited_s)} s, {off}"

    def became(self, stop: StopAccount) -> str:
        """What became of a stop."""
        return self.lifted(stop.hold) if stop.hold is not None else _AFTER[stop.after]

    def lifted(self, hold: HoldAccount) -> str:
        """What lifted a hold."""
        lifted = hold.lifted
        if lifted is None:
            return "the hold was never lifted"
        without = "" if lifted.role is not None else " without an override"
        return f"lifted{without} by {self.phrases.lifted_by(lifted)}: {self.phrases.lifted_because(lifted)}"

    def override(self, one: OverrideAccount) -> str:
        """Who answered for what, and why."""
        who, why = self.person(one.role, one.code), self.phrases.override_reason(one.reason)
        match one.of:
            case OverrideOf.HOLD:
                held = self.reason(one.grounds) if one.grounds is not None else "it"
                return f"{who} lifted the hold “{held}”: {why}"
            case OverrideOf.STEP:
                return f"{who} had {self._place(one.stage)} counted as done: {why}"
            case OverrideOf.GAPS:
                listed = named(self.phrases.names.reading(gap.stage, gap.field) for gap in one.gaps)
                return f"{who} accepted missing values: {why} ({listed})"
            case OverrideOf.ZONE:
                return f"{who} left {zone_name(self.account.record, one.zone)} short of light: {why}"
            case OverrideOf.END:
                return f"{who} ended the visit early at {self._place(one.stage)}: {why}"
            case _:
                assert_never(one.of)

    def off_target(self, standing: ZoneStanding) -> str:
        """The zones short of their target, or over it; "" where there is none."""
        zones = self.account.off_target(standing)
        if not zones:
            return ""
        name = "Over target" if standing is ZoneStanding.OVER else "Short of target"
        told = [self.zone(one) for one in zones if one.lit_s > 0]
        dark = ", ".join(zone_name(self.account.record, one.zone) for one in zones if one.lit_s <= 0)
        told += [f"never lit: {dark}"] if dark else []
        return f"{name}: {', '.join(told)}"

    def zone(self, zone: ZoneAccount) -> str:
        """The light of a zone against its target."""
        off = f"{tenths(abs(zone.off_s))} s {'over' if zone.off_s > 0 else 'missing'}"
        return f"{zone_name(self.account.record, zone.zone)} {tenths(zone.lit_s)} of {tenths(zone.target_s)} s ({off})"

    def flagged(self, reading: RecordedReading) -> str:
        """A flagged reading with the reason, as the visit or a later correction gave it."""
        stands = reading.stands
        why = [self.reason(stands.grounds.unnumbered)] if stands.grounds is not None else []
        anew = amended_flag(reading, self.reason)
        why += [anew] if anew else []
        # "pulse absent" needs no "pulse absent" as its reason.
        why = [one for one in why if one != f"{stands.label} {display_value(stands.value, stands.unit)}"]
        return f"{self.value(reading)}{': ' if why else ''}{'; '.join(why)}"

    def value(self, reading: RecordedReading) -> str:
        """A reading with its place."""
        stands = reading.stands
        return f"{self._asked(stands)} {shown_value(stands, display_value, self.phrases.names)}"

    def doubtful(self, readings: tuple[RecordedReading, ...]) -> str:
        """Readings of one utterance that was heard with doubt."""
        first = readings[0].recorded.fact
        values = named(f"{one.stands.label} {display_value(one.stands.value, one.stands.unit)}" for one in readings)
        asked = ", asked about and affirmed" if first.asked else ""
        sure = percent(first.heard.probability)
        return f"{self._place(first.stage)}, {values}: heard “{first.heard.text}” at {sure}{asked}"

    def corrected(self, fact: ReadingAmended) -> str:
        """A value that took the place of another one in the visit."""
        old, new = display_value(fact.old_value, fact.unit), display_value(fact.value, fact.unit)
        return f"In the visit: {self._asked(fact)} {old} → {new}"

    def withdrawn(self, fact: StepWithdrawn) -> str:
        """A step that was answered and then left out."""
        name = self.phrases.names.stage(fact.stage)
        return f"In the visit: {name} was answered and then left out, because its condition changed"

    def turned(self, turned: TurnedStep) -> str:
        """A step that should have been done, or should not count, by the values as they are amended."""
        return capital(turned_words(turned))

    def amended(self, amendment: Amendment) -> str:
        """A later correction, by whom, why, and what it makes of the class of the value."""
        record = self.account.record
        reading = next((one for one in record.readings if one.recorded.seq == amendment.entry), None)
        unit = reading.stands.unit if reading is not None else None
        before, after = changed(amendment, lambda value: display_value(value, unit))
        before, after = (text.removeprefix("value ").removeprefix("text ") for text in (before, after))
        what = "note" if any(one.seq == amendment.entry for one in record.of(NoteTaken)) else "entry"
        if reading is not None:
            what = self._asked(reading.recorded.fact)
        told = class_anew(reading, self.reason) if reading is not None else ""
        flag = f" ({told})" if told else ""
        return f"Afterwards, by {amendment.by}: {what} {before} → {after}, “{amendment.reason}”{flag}"

    def odd_light(self) -> Iterator[tuple[int, str]]:
        """Light outside a zone, and light whose end nobody heard, each with its line."""
        record = self.account.record
        for seq, told in stray_lines(record):
            yield seq, capital(told)
        for run in self.account.unheard_ends:
            where = zone_name(record, run.zone)
            yield run.seq, f"Light off was not heard: {where}, {tenths(run.credited_s)} s up to the last sign of it"

    def skipped(self) -> Iterator[tuple[int, str]]:
        """What was left out, each with its line."""
        for one in self.account.skipped:
            yield (
                one.seq,
                f"Left out: {self.phrases.names.stage(one.fact.stage)}, {self.phrases.skip_reason(one.fact.reason)}",
            )

    def left_open(self) -> Iterator[str]:
        """What was left open, those of a kind together."""
        if not self.account.closed:
            yield "The visit was not closed"
        kinds: dict[str, list[str]] = {}
        for item in self.account.open_items:
            kind, what = self.open_item(item)
            kinds.setdefault(kind, []).append(what)
        for kind, listed in kinds.items():
            count = f" ({len(listed)})" if len(listed) > _MOST_NAMED else ""
            yield f"{kind}{count}: {named(listed)}" if any(listed) else kind
        unread = len(self.account.unverified)
        if unread:
            yield "A dictated note that nobody has read" if unread == 1 else f"{unread} dictated notes nobody has read"

    def open_item(self, item: OpenItem) -> tuple[str, str]:
        """What kind of open item it is, and which; "" where there is but one of the kind."""
        match item:
            case OpenLightOff():
                return "Light off was not confirmed", ""
            case OpenHold(grounds=grounds):
                return "Hold not lifted", self.reason(grounds)
            case OpenReading(stage=stage, field=field):
                return "No value", self.phrases.names.reading(stage, field)
            case OpenStep(stage=stage):
                return "Not done", self.phrases.names.stage(stage)
            case OpenZone(label=label):
                return "Short of light", label
            case OpenTimer(label=label):
                return "Timer not run out", label
            case OpenLateQuestion():
                return "Late heat question not answered", ""
            case _:
                assert_never(item)

    def clock(self, seq: int) -> str:
        """Session time of a line."""
        moments = Moments.of(self.account.record)
        found = next((one for one in self.account.record.facts if one.seq == seq), None)
        return clock_text(moments.at_s(found)) if found is not None else ""


def approval_words(approval: Approval) -> str:
    """How an approval stands."""
    by = f"the approval by {approval.role} of {approval.day}"
    match approval.state:
        case ApprovalState.NONE:
            return NOBODY_APPROVED
        case ApprovalState.VALID:
            return f"Approved by {approval.role} on {approval.day}, {'signed' if approval.key else 'not signed'}"
        case ApprovalState.CHANGED:
            return f"Not approved: changed since {by}"
        case ApprovalState.OTHER_ROLE:
            return f"Not approved: the file asks for another role than {by}"
        case ApprovalState.UNSIGNED:
            return f"Not approved: {by} is not signed"
        case ApprovalState.UNKNOWN_KEY:
            return f"Not approved: {by} is signed with a key that is not the site's"
        case ApprovalState.BAD_SIGNATURE:
            return f"Not approved: the signature of {by} is wrong"
        case ApprovalState.UNREADABLE:
            return "Not approved: the approval file could not be read"
        case _:
            assert_never(approval.state)


def ended_early_words(run: RunAccount) -> str:
    """How a run of light ended, where it was not by "light off" or the lamp."""
    if run.end in {None, RunEnd.INTERRUPTED}:
        return "break"
    return f"“{plain(run.reason)}”" if run.reason else plain(run.end or "")


def named(items: Iterable[str]) -> str:
    """The first few by name, and how many more."""
    listed = list(items)
    more = len(listed) - _MOST_NAMED
    return ", ".join(listed[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
