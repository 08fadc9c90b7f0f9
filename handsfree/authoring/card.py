"""One printable page: the steps of a procedure and the words that work in each."""

from jinja2 import Environment, StrictUndefined

from handsfree.definition.form import Procedure, Step, StepField
from handsfree.definition.loader import Bundle
from handsfree.definition.side_words import on_paper
from handsfree.definition.verbalization import unit_words

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

_PAGE = """<!doctype html>
<html lang="{{ procedure.language }}"><head><meta charset="utf-8"><title>{{ procedure.title }}</title><style>
@page { size: A4; margin: 9mm }
body { font: {{ size }}px/1.22 sans-serif; color: #000; margin: 0 }
@media screen { body { max-width: 192mm; margin: 9mm auto; padding: 0 3mm } }
h1 { font-size: 1.5em; margin: 0 0 .2em }
h2 { font-size: 1.05em; margin: .5em 0 .15em; border-bottom: 1px solid #000; break-after: avoid }
p { margin: .1em 0 }
.stop { border: 2px solid #000; padding: .2em .5em; font-weight: 700; margin: .3em 0 }
.steps { columns: {{ columns }}; column-gap: 5mm }
.step { break-inside: avoid; margin: .12em 0 }
.words { font-style: italic }
table { border-collapse: collapse } td { padding: 0 .8em 0 0; vertical-align: top }
</style></head><body>
<h1>{{ procedure.title }}</h1>
<p>{{ procedure.id }} {{ procedure.version }} · {% if unapproved %}<b>not approved:</b> {{ unapproved | join("; ") }}\
{% else %}approved by {{ procedure.approved_by }}{% endif %}</p>
{% for caution in procedure.cautions %}<p>{{ caution }}</p>{% endfor %}
<p class="stop">At any time, from anyone: {{ anytime | join(" · ") }}</p>
<div class="steps">
{% for phase, rows in phases %}<h2>{{ phase }}</h2>
{% for row in rows %}<p class="step">{{ row.number }} {{ "■" if row.hard else "□" }} {{ row.prompt }}\
{% if row.words %} <span class="words">{{ row.words }}</span>{% endif %}</p>
{% endfor %}{% endfor %}<h2>Always</h2>
<table>{% for words, use in always %}<tr><td class="words">{{ words }}</td><td>{{ use }}</td></tr>{% endfor %}</table>
</div>
<p>■ never skipped. Numbers digit by digit; codes in the spelling alphabet; the month of a date by its name.</p>
</body></html>
"""


def _words(field: StepField, *, alone: bool) -> str:
    """What may be said for a field, in short."""
    if field.options is not None:
        said = " / ".join(phrases[0] for phrases in field.options.values())
    elif field.number is not None:
        said = f"{field.number.low} to {field.number.high} {unit_words(field.number)}".rstrip()
    elif field.identifier is not None:
        said = "spelled code"
    else:
        said = "month and year" if field.date is not None and field.date.month_only else "date"
    return said if alone else f"{field.label} {said}"


def _row(number: int, step: Step, *, names_patient: bool) -> dict[str, object]:
    match step.kind:
        case "confirm" | "teach":
            words = "affirmative"
        case "expose":
            words = "light on … light off" if step.zones == "open" else "strap off, light on … light off"
        case "tell":
            words = "next step"
        case "compute":
            words = "computed, and said"
        case _:
            words = "; ".join(_words(field, alone=len(step.fields) == 1) for field in step.fields)
    prompt = on_paper(step.expert or step.prompt)
    prompt = prompt[:1].upper() + prompt[1:] + (" (each side)" if step.for_each is not None else "")
    if step.repeat is not None:
        words = f"{words}; or {step.repeat.name} and its number; that was the last"
    prompt += " (live, where none was given)" if names_patient else ""
    return {"number": number, "hard": step.hard, "prompt": prompt, "words": words}


def _phases(procedure: Procedure) -> list[tuple[str, list[dict[str, object]]]]:
    patient = (procedure.patient_from or "").partition(".")[0]
    rows = [
        (step.phase, _row(number, step, names_patient=step.id == patient))
        for number, step in enumerate(procedure.steps, start=1)
    ]
    return [
        (phase.capitalize(), [row for own, row in rows if own == phase])
        for phase in dict.fromkeys(own for own, _ in rows)
    ]


def _narrated_row(number: int, step: Step) -> dict[str, object]:
    """A step of a narrated visit: what it is about, then the names of its items with what may be said."""
    if step.kind == "expose":
        return _row(number, step, names_patient=False)
    if step.reported:
        words = " / ".join(step.reported)
    elif step.fields:
        same: dict[str, list[str]] = {}
        for field in step.fields:
            same.setdefault(_words(field, alone=True), []).append(field.label)
        words = "; ".join(f"{', '.join(labels)} {said}" for said, labels in same.items())
    else:
        words = f"asked at the end: {'next step' if step.kind == 'tell' else 'affirmative'}"
    about = step.topic or (step.expert or step.prompt).rstrip("?.")
    about = on_paper(about)
    side = " (right, left)" if step.for_each is not None else ""
    return {"number": number, "hard": step.hard, "prompt": f"{about}{side}:", "words": words}


def _narrated_phases(bundle: Bundle) -> list[tuple[str, list[dict[str, object]]]]:
    """The phases with a gate behind each: inside one, everything may be said in any order."""
    plan, found = bundle.plan, dict[str, list[dict[str, object]]]()
    numbers = {step.id: number for number, step in enumerate(bundle.procedure.steps, start=1)}
    for stage in plan.stages:
        rows = found.setdefault(plan.phases[stage.id].replace("_", " ").capitalize(), [])
        if all(row["number"] != numbers[stage.step.id] for row in rows):
            rows.append(_narrated_row(numbers[stage.step.id], stage.step))
    return [*found.items()]


def card_html(bundle: Bundle, *, narrated: bool = False) -> str:
    """A self-contained page for one sheet of A4.

    Args:
        bundle: The procedure.
        narrated: Whether it is for a visit that is narrated; else for one in which the tool asks.
    """
    count = len(bundle.procedure.steps)
    size, columns = (11.5, 1) if count <= 12 else (10, 2) if count <= 30 else (8.6, 3)
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    return environment.from_string(_PAGE).render(
        procedure=bundle.procedure,
        unapproved=bundle.unapproved,
        anytime=_ANYTIME,
        always=_WHERE_NARRATED if narrated else _ALWAYS,
        phases=_narrated_phases(bundle) if narrated else _phases(bundle.procedure),
        size=size,
        columns=columns,
    )


def card_text(bundle: Bundle, *, narrated: bool = False) -> str:
    """The same as plain text."""
    procedure = bundle.procedure
    lines = [procedure.title, f"{procedure.id} {procedure.version}"]
    if bundle.unapproved:
        lines.append(f"not approved: {'; '.join(bundle.unapproved)}")
    lines += [*procedure.cautions, f"At any time, from anyone: {', '.join(_ANYTIME)}"]
    for phase, rows in _narrated_phases(bundle) if narrated else _phases(procedure):
        lines += ["", phase.upper()]
        lines += [f"{row['number']:>3} {'■' if row['hard'] else '□'} {row['prompt']}  {row['words']}" for row in rows]
    lines += ["", "ALWAYS", *(f"  {words}: {use}" for words, use in (_WHERE_NARRATED if narrated else _ALWAYS))]
    return "\n".join(lines) + "\n"
