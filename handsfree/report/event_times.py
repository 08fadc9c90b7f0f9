"""What the tool said in a visit, made again from its events. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.definition.loader import Bundle
from handsfree.model.effects import Append, Say
from handsfree.model.facts import AnyFact
from handsfree.record.baseline import from_header
from handsfree.record.comparison import same_fact
from handsfree.record.contents import Record, recalled_lots
from handsfree.session.session import Session


@dataclass(frozen=True)
class PromptSaid:
    """What the tool said, made again from the procedure file.

    Attributes:
        prompts: Texts, by the line of the event that they answer.
        why_not: Why there is nothing, fit to be shown; "" where there is.
    """

    prompts: Mapping[int, tuple[str, ...]]
    why_not: str = ""


def said(record: Record, bundle: Bundle | None) -> PromptSaid:
    """Hand every event to a new session and take down what it says.

    A record keeps the facts and the hash of the procedure, not the prompts. They are shown only where the same
    procedure, by hash, gives every fact of the record again.

    Args:
        record: The record.
        bundle: The procedure, where it is at hand.
    """
    wanted = record.header.procedure_sha256
    if bundle is None or bundle.sha256 != wanted:
        return PromptSaid({}, f"The procedure with the hash {wanted} is not at hand, so the prompts are not shown.")
    session = Session(
        bundle,
        expert=record.header.expert,
        recalled=recalled_lots(record.header),
        baseline=from_header(record.header),
        patient_reference=record.header.patient_reference or "",
        reference_pattern=record.header.reference_pattern,
        working=record.header.working,
        going_on=record.header.going_on,
        approval=record.header.approval,
    )
    prompts: dict[int, tuple[str, ...]] = {}
    given: dict[int, list[AnyFact]] = {}
    for line, event in zip(record.event_lines, record.events, strict=True):
        effects = session.handle(event)
        prompts[line] = tuple(effect.text for effect in effects if isinstance(effect, Say))
        given[line] = [effect.fact for effect in effects if isinstance(effect, Append)]
    present_from = record.lines if record.present_from is None else record.present_from
    for recorded in record.facts:
        if recorded.event_seq not in given:
            continue  # stated by the program about its devices, without an event
        due = given[recorded.event_seq]
        if not due or not same_fact(recorded.fact, due.pop(0), older=recorded.seq < present_from):
            return PromptSaid(
                {}, f"Replay gives other facts from entry {recorded.seq} on, so the prompts are not shown."
            )
    return PromptSaid(prompts)
