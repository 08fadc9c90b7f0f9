"""The printed card: the steps of a procedure, the words that work in each, and the rules that somebody approves.

It is read from where it lies or hangs, at arm's length. ISO 9241-303 asks for capitals of at least 16 minutes of arc
(quoted in NUREG-0700 rev. 2, 1.3.1); at half a metre that is 2.33 mm, of a sans-serif face with capitals of 0.716 of
its size (Arial, Liberation Sans) 9.2 points. Nothing on the card is smaller; a short procedure is printed larger.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from handsfree.authoring.rules import RuleBook, RuleKind, StepRule, grouped
from handsfree.definition.form import Step, StepField
from handsfree.definition.loader import Bundle
from handsfree.definition.side_words import on_paper
from handsfree.definition.verbalization import unit_words
from handsfree.model.approval import Approval
from handsfree.record.account_words import approval_words
from handsfree.record.display_text import capital

_ANYTIME = ("stop", "hot", "it hurts", "light off")
_ALWAYS = (
    ("affirmative / negative", "after a read-back"),
    ("correction", "the last value was wrong"),
    ("say again", "hear the question again"),
    ("what can i say", "hear what would be understood"),
    ("wait … resume", "a pause"),
    ("previous step / next step", "look back, go on"),
    ("skip this step", "only steps without ■, with a reason"),
    ("take note … end note", "free words"),
    ("override", "go on after a stop: role and reason"),
    ("status report", "how far we are"),
)

_WHERE_NARRATED = (
    ("name, value, name, value …", "several in one breath, in any order, of the phase at hand"),
    ("right … / … on the left / both sides …", "whose side; measures are of one side"),
    ("no wound", "where absent is an answer"),
    ("affirmative (, and more)", "after a read-back: numbers, codes, dates, sides, stops"),
    ("correction, name, value", "puts one right, also at the gate"),
    ("what is missing / next step", "the list; through the gate, which lists first"),
    ("guide me / listen to me", "who leads, at any time"),
    ("skip this step", "where the tool has asked for a step without ■"),
    *(row for row in _ALWAYS if row[0].startswith(("say again", "wait", "take note", "override", "status"))),
)

SIZES_PT = (13.0, 11.5, 10.3, 9.3)
"""Sizes of type from which the largest is taken that leaves the card short; see above for the smallest."""
_MOST_CHARACTERS = (900, 1_700, 2_600)
"""Up to so many characters a size is taken; tried out with the bundled procedures."""
_GRAVE_WORDS = re.compile(r"\b(STOP|RED) [^,;]+")
_GRAVE = frozenset({RuleKind.STOP, RuleKind.RED})

_PAGE = """<!doctype html>
<html lang="{{ procedure.language }}"><head><meta charset="utf-8"><title>{{ procedure.title }}</title><style>
@page { size: A4; margin: 8mm }
body { font: {{ size }}pt/1.13 "Liberation Sans Narrow", "Arial Narrow", Arial, "Liberation Sans",
  "DejaVu Sans Condensed", sans-serif; font-stretch: condensed; color: #000; margin: 0 }
@media screen { body { max-width: 194mm; margin: 9mm auto; padding: 0 3mm } }
h1 { font-size: 1.35em; margin: 0 0 .1em }
h2 { font-size: 1.1em; margin: .35em 0 .1em; border-bottom: 1px solid #000; break-after: avoid }
p { margin: .1em 0 }
.stop { border: 2px solid #000; padding: .1em .4em; font-weight: 700; margin: .2em 0 }
.steps { columns: {{ columns }}; column-gap: 4mm }
.step { break-inside: avoid; margin: .15em 0 }
.words { font-style: italic } .grave, .words b { font-style: normal; font-weight: 700 }
dl { margin: 0 } dt { font-style: italic; display: inline }
dd { display: inline; margin: 0 } dd::after { content: "\\A"; white-space: pre }
</style></head><body>
<h1>{{ procedure.title }}</h1>
<p>{{ procedure.id }} {{ procedure.version }} · <b>{{ approval }}</b></p>
{% for caution in procedure.cautions %}<p>{{ caution }}</p>{% endfor %}
<p class="stop">At any time, from anyone: {{ anytime | join(" · ") }}</p>
<div class="steps">
{% for phase, rows in phases %}<h2>{{ phase }}</h2>
{% for row in rows %}<p class="step">{{ row.number }} {{ "■" if row.hard else "□" }} {{ row.prompt }}\
{% if row.words %} <span class="words">{{ row.words | signed }}</span>{% endif %}\
{% for kind, text in row.rules %} {% if kind in grave %}<span class="grave">{{ kind }} {{ text }}.</span>\
{% else %}<b>{{ kind }}</b> {{ text }}.{% endif %}{% endfor %}</p>
{% endfor %}{% endfor %}<h2>Who may lift what</h2>
{% for line in lifts %}<p>{{ line }}</p>
{% endfor %}<h2>Always</h2>
<dl>{% for words, use in always %}<dt>{{ words }}</dt> <dd>{{ use }}</dd>{% endfor %}</dl>
<p>■ never skipped. STOP holds until another answer or who may lift it; RED until who may lift it.
Numbers digit by digit; codes in the spelling alphabet; the month of a date by its name.</p>
</div>
</body></html>
"""


@dataclass(frozen=True, slots=True)
class CardRow:
    """A step on the card.

    Attributes:
        number: Its place in the procedure, from 1.
        hard: Whether it is never skipped.
        prompt: What is asked, or what it is about.
        words: What may be said.
        rules: Its rules, those of a kind in one text.
    """

    number: int
    hard: bool
    prompt: str
    words: str
    rules: tuple[tuple[RuleKind, str], ...]

    @property
    def text(self) -> str:
        """The row as text."""
        told = "".join(f"  {kind} {text}." for kind, text in self.rules)
        return f"{self.number:>3} {'■' if self.hard else '□'} {self.prompt}  {self.words}{told}"


def _words(field: StepField) -> str:
    """What may be said for a field, in short, each option behind the class that it has."""
    if field.options is not None:
        classed = ((field.amber, "amber"), (field.stop, "STOP"), (field.red, "RED"))
        plain = [name for name in field.options if not any(name in names for names, _ in classed)]
        parts = [" / ".join(field.options[name][0] for name in plain)] if plain else []
        parts += [f"{sign} {' / '.join(field.options[name][0] for name in names)}" for names, sign in classed if names]
        return ", ".join(parts)
    if field.number is not None:
        return f"{field.number.low} to {field.number.high} {unit_words(field.number)}".rstrip()
    if field.identifier is not None:
        return "spelled code"
    return "month and year" if field.date is not None and field.date.month_only else "date"


def _values(step: Step) -> str:
    """What may be said for the fields of a step; labels with the same answers stand together."""
    if len(step.fields) == 1:
        return _words(step.fields[0])
    same: dict[str, list[str]] = {}
    for field in step.fields:
        same.setdefault(_words(field), []).append(field.label)
    return "; ".join(f"{', '.join(labels)} {said}" for said, labels in same.items())


def _guided_words(step: Step) -> str:
    if step.kind == "compute":
        return "computed, and said"
    if step.fields:
        return _values(step)
    match step.kind:
        case "expose":
            return "light on … light off" if step.zones == "open" else "strap off, light on … light off"
        case "tell":
            return "next step"
        case _:
            return "affirmative"


def _guided(step: Step, *, names_patient: bool) -> tuple[str, str]:
    """What is asked and what may be said where the tool leads."""
    prompt = on_paper(step.expert or step.prompt)
    prompt = capital(prompt) + (" (each side)" if step.for_each is not None else "")
    words = _guided_words(step)
    if step.repeat is not None:
        words = f"{words}; or {step.repeat.name} and its number; that was the last"
    return prompt + (" (live, where none was given)" if names_patient else ""), words


def _narrated(step: Step) -> tuple[str, str]:
    """What a step is about and what may be said where the person leads."""
    if step.kind == "expose":
        return _guided(step, names_patient=False)
    if step.reported:
        words = " / ".join(step.reported)
    elif step.fields:
        words = _values(step) if len(step.fields) > 1 else f"{step.fields[0].label} {_words(step.fields[0])}"
    else:
        words = f"asked at the end: {'next step' if step.kind == 'tell' else 'affirmative'}"
    about = on_paper(step.topic or (step.expert or step.prompt).rstrip("?."))
    return f"{about}{' (right, left)' if step.for_each is not None else ''}:", words


def _shown(rules: Iterable[StepRule]) -> tuple[tuple[RuleKind, str], ...]:
    """The rules that the words of the answers do not show already."""
    return grouped(rule for rule in rules if not rule.of_options)


def _phases(bundle: Bundle, *, narrated: bool) -> list[tuple[str, list[CardRow]]]:
    """The steps by phase: those of the file where the tool leads, those with a gate behind each where it does not."""
    plan, found = bundle.plan, dict[str, list[CardRow]]()
    book = RuleBook(bundle.procedure, bundle.device)
    numbers = {step.id: number for number, step in enumerate(bundle.procedure.steps, start=1)}
    seen: set[str] = set()
    for stage in plan.stages:
        step = stage.step
        if step.id in seen:
            continue
        seen.add(step.id)
        phase = plan.phase_name(plan.phases[stage.id]) if narrated else step.phase
        prompt, words = _narrated(step) if narrated else _guided(step, names_patient=stage.names_patient)
        row = CardRow(numbers[step.id], step.hard, prompt, words, _shown(book.of(step)))
        found.setdefault(phase.capitalize(), []).append(row)
    return [*found.items()]


def _signed(words: str) -> Markup:
    """Words with the answers that hold the visit in bold."""
    return Markup(_GRAVE_WORDS.sub(r"<b>\g<0></b>", str(escape(words))))  # noqa: S704 - escaped before


def _size(phases: Iterable[tuple[str, list[CardRow]]]) -> float:
    load = sum(len(row.text) for _, rows in phases for row in rows)
    return next((size for size, most in zip(SIZES_PT, _MOST_CHARACTERS, strict=False) if load <= most), SIZES_PT[-1])


def card_html(bundle: Bundle, approval: Approval, *, narrated: bool = False) -> str:
    """A self-contained page to be printed: one sheet of A4, both sides at most for a fitting.

    Args:
        bundle: The procedure.
        approval: How its approval stands.
        narrated: Whether it is for a visit that is narrated; else for one in which the tool asks.
    """
    phases = _phases(bundle, narrated=narrated)
    size = _size(phases)
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    environment.filters["signed"] = _signed
    return environment.from_string(_PAGE).render(
        procedure=bundle.procedure,
        approval=approval_words(approval),
        anytime=_ANYTIME,
        always=_WHERE_NARRATED if narrated else _ALWAYS,
        phases=phases,
        lifts=RuleBook(bundle.procedure).lifts(),
        grave=_GRAVE,
        size=size,
        columns=1 if size == SIZES_PT[0] else 2,
    )


def card_text(bundle: Bundle, approval: Approval, *, narrated: bool = False) -> str:
    """The same as plain text."""
    procedure = bundle.procedure
    lines = [procedure.title, f"{procedure.id} {procedure.version}", approval_words(approval)]
    lines += [*procedure.cautions, f"At any time, from anyone: {', '.join(_ANYTIME)}"]
    for phase, rows in _phases(bundle, narrated=narrated):
        lines += ["", phase.upper(), *(row.text for row in rows)]
    lines += ["", "WHO MAY LIFT WHAT", *(f"  {line}" for line in RuleBook(procedure).lifts())]
    lines += ["", "ALWAYS", *(f"  {words}: {use}" for words, use in (_WHERE_NARRATED if narrated else _ALWAYS))]
    return "\n".join(lines) + "\n"
