"""What changed since a procedure was approved: in words, and as a list of every key that differs. Pure."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from handsfree.authoring.rules import RuleBook, grouped, words_of
from handsfree.definition.form import Step
from handsfree.definition.loader import Bundle, load_carried
from handsfree.errors import ProcedureFileError
from handsfree.record.display_text import one_line

_NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class ApprovalChanges:
    """What differs from what was approved.

    Attributes:
        words: What it means for the visit, a sentence each; empty where the earlier form can no longer be read.
        keys: Every key that differs, as "steps.pain.fields.score.number.flag_above: 5 → 7".
    """

    words: tuple[str, ...]
    keys: tuple[str, ...]


def changes_since(approved: bytes, bundle: Bundle) -> ApprovalChanges:
    """What changed in the expanded procedure and profiles.

    Args:
        approved: The expanded procedure as it was approved, as JSON text.
        bundle: The procedure as it is.
    """
    before, now = json.loads(approved), json.loads(bundle.expanded)
    keys = tuple(one_line(f"{'.'.join(path)}: {old} → {new}") for path, old, new in _differences(before, now))
    try:
        words = tuple(_words(load_carried(approved, ""), bundle)) if keys else ()
    except ProcedureFileError:
        words = ()
    return ApprovalChanges(words, keys)


def _differences(before: Any, now: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str, str]]:  # noqa: ANN401 - any JSON
    """Each place that differs, with what stood and what stands there."""
    if before == now and _order(before) == _order(now):
        return
    if isinstance(before, dict) and isinstance(now, dict):
        for key in dict.fromkeys((*before, *now)):
            yield from _differences(before.get(key), now.get(key), (*path, str(key)))
        if _order(before) != _order(now) and set(before) == set(now):
            # Of phrases and options the first one is said, so their order is more than looks.
            yield path, _shown(list(before)), _shown(list(now))
        return
    old, new = _by_id(before), _by_id(now)
    if old is None or new is None:
        yield path, _shown(before), _shown(now)
        return
    for key in dict.fromkeys((*old, *new)):
        yield from _differences(old.get(key), new.get(key), (*path, key))
    shared = [key for key in old if key in new]
    if shared != [key for key in new if key in old]:
        yield (*path, "order"), ", ".join(old), ", ".join(new)


def _order(part: Any) -> list[str]:  # noqa: ANN401 - any JSON
    return list(part) if isinstance(part, dict) else []


def _by_id(part: Any) -> Mapping[str, Any] | None:  # noqa: ANN401 - any JSON
    """Members of a list by their identifier, where each has one."""
    if not isinstance(part, list) or not all(isinstance(item, dict) and "id" in item for item in part):
        return None
    found = {str(item["id"]): item for item in part}
    return found if len(found) == len(part) else None


def _shown(value: Any) -> str:  # noqa: ANN401 - any JSON
    if value is None:
        return _NOTHING
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _words(before: Bundle, now: Bundle) -> Iterator[str]:
    old, new = ({step.id: step for step in bundle.procedure.steps} for bundle in (before, now))
    for gone in old.keys() - new.keys():
        yield f"{words_of(gone)}: the step is gone"
    was, book = RuleBook(before.procedure, before.device), RuleBook(now.procedure, now.device)
    for name, step in new.items():
        if name not in old:
            yield f"{words_of(name)}: a new step{', never skipped' if step.hard else ''}, asks “{step.prompt}”"
            yield from (f"{words_of(name)}: {kind} {text}" for kind, text in grouped(book.of(step)))
        elif old[name] != step or was.device != book.device:
            yield from _step_words(was, old[name], book, step)
    order = [name for name in old if name in new], [name for name in new if name in old]
    if order[0] != order[1]:
        moved = next(one for one, other in zip(*order, strict=True) if one != other)
        yield f"the steps come in another order, from {words_of(moved)} on"
    for line in set(was.lifts()) - set(book.lifts()):
        yield f"who may lift what: no longer {line}"
    for line in set(book.lifts()) - set(was.lifts()):
        yield f"who may lift what: now {line}"


def _step_words(was: RuleBook, old: Step, book: RuleBook, new: Step) -> Iterator[str]:
    name = words_of(new.id)
    if old.prompt != new.prompt:
        yield f"{name}: asks “{new.prompt}”, asked “{old.prompt}”"
    if old.hard != new.hard:
        yield f"{name}: {'can no longer be skipped' if new.hard else 'may be skipped now'}"
    before, now = was.of(old), book.of(new)
    for kind, text in grouped(rule for rule in before if rule not in now):
        yield f"{name}: no longer {kind} {text}"
    for kind, text in grouped(rule for rule in now if rule not in before):
        yield f"{name}: now {kind} {text}"
