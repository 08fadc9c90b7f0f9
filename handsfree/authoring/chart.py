"""The state diagram of a procedure, drawn from the compiled table: Mermaid text, or SVG without any library."""

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from textwrap import wrap

from handsfree.definition.form import Step
from handsfree.definition.plan import CLOSED, Plan, SideRole
from handsfree.definition.side_words import with_side

_BOX_W, _BOX_H, _GAP_Y, _MARGIN, _LANE = 340, 46, 26, 40, 26
_PHASES = {"before": "Before", "during": "During", "after": "After"}
_HOLDS = {"red", "stop"}
"""Classes that hold the procedure."""
_COLOURS = {
    "hard": ("#fff4e5", "#b35900"),
    "soft": ("#ffffff", "#5f6b7a"),
    "light": ("#e6f0ff", "#0b5cad"),
    "finish": ("#eeeeee", "#333333"),
}
_STYLE = """
text { font: 13px sans-serif; fill: #1a1a1a; }
.title { font-weight: 600; font-size: 17px; }
.phase { font-weight: 600; fill: #444; }
.small { font-size: 11px; fill: #444; }
.way { fill: none; stroke: #333; stroke-width: 1.5; marker-end: url(#tip); }
.round { fill: none; stroke: #777; stroke-width: 1.2; stroke-dasharray: 5 3; marker-end: url(#tip); }
"""


@dataclass(frozen=True, slots=True)
class Node:
    """A step in the diagram.

    Attributes:
        step: The step; None is the end.
        sides: Whether it is done for each side.
    """

    step: Step | None
    sides: bool = False


def _nodes(plan: Plan) -> list[Node]:
    found = [
        Node(stage.step, stage.role is not None)
        for stage in plan.stages
        if stage.role is None or stage.role is SideRole.INJURED
    ]
    return [*found, Node(None)]


def ways(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Moves ahead between steps, from the compiled table; both sides of a step are one."""
    step_of: dict[str, str] = {stage.id: stage.step.id for stage in plan.stages} | {CLOSED: CLOSED}
    found = dict.fromkeys((step_of[source], step_of[target]) for source, target in plan.forward)
    return tuple((source, target) for source, target in found if source != target)


def _kind(step: Step | None) -> str:
    if step is None:
        return "finish"
    return "light" if step.kind == "expose" else "hard" if step.hard else "soft"


def _condition(plan: Plan, target: str) -> str:
    """What must have been answered for a step to be done."""
    step = next((stage.step for stage in plan.stages if stage.step.id == target), None)
    if step is None or step.when is None:
        return ""
    return f"{step.when.step}: {' or '.join(step.when.is_)}".replace("_", " ")


def _stops(step: Step) -> tuple[str, ...]:
    """What holds the procedure at a step, in words."""
    found = []
    for field in step.fields:
        options = [*field.stop, *field.red]
        number = field.number
        graded = number is not None and number.flag_class in _HOLDS
        if options:
            found.append(f"{field.label} {' or '.join(options)}".replace("_", " "))
        if number is not None and graded and number.flag_above is not None:
            found.append(f"{field.label} over {number.flag_above}")
        if number is not None and graded and number.flag_below is not None:
            found.append(f"{field.label} under {number.flag_below}")
        if number is not None and number.band is not None:
            found.append(f"{field.label} outside its band")
        if field.date is not None and field.date.not_before is not None:
            found.append(f"{field.label} past")
        if field.again is not None and field.again.class_ in _HOLDS:
            found.append(f"{field.label} flagged twice")
    found += ["answers that do not agree"] if step.agree else []
    found += ["no size for it"] if step.size_from is not None else []
    return (*found, *_compared(step))


def _compared(step: Step) -> Iterator[str]:
    """What holds it against an earlier reading or the other side; what is alike for several labels is said once."""
    for rules, than in (
        ([(field, field.compare) for field in step.fields], "than before"),
        ([(field, field.sides) for field in step.fields], "than the other side"),
    ):
        worse = [field.label for field, rule in rules if rule is not None and rule.worse in _HOLDS]
        if worse:
            yield f"{', '.join(worse)} worse {than}"
    for field in step.fields:
        if field.compare is not None and field.compare.class_ in _HOLDS:
            yield f"{field.label} up by {field.compare.rise}"
        if field.sides is not None and field.sides.class_ in _HOLDS:
            yield f"{field.label} {field.sides.differ} apart from the other side"


def mermaid(plan: Plan) -> str:
    """The diagram as Mermaid flowchart text."""
    lines = ["flowchart TD"]
    phase = ""
    for node in _nodes(plan):
        step = node.step
        if step is None:
            lines += ["  end", f"  {CLOSED}([record closed]):::finish"]
            continue
        if step.phase != phase:
            lines += ["  end"] if phase else []
            phase = step.phase
            lines.append(f'  subgraph {phase}_phase["{_PHASES[phase]}"]')
        lines.append(f'    step_{step.id}["{_mermaid_text(_caption(step, node.sides))}"]:::{_kind(step)}')
    for source, target in ways(plan):
        condition = _mermaid_text(_condition(plan, target))
        arrow = f'-->|"{condition}"|' if condition else "-->"
        lines.append(f"  step_{source} {arrow} {CLOSED if target == CLOSED else f'step_{target}'}")
    for node in _nodes(plan):
        if node.step is not None and (stops := _stops(node.step)):
            lines.append(f'  step_{node.step.id} -. "{_mermaid_text("; ".join(stops))}" .-> held')
    if any(line.endswith("-> held") for line in lines):
        lines.append('  held{{"held: role and reason"}}:::finish')
    for kind, (fill, stroke) in _COLOURS.items():
        width = 3 if kind == "hard" else 1
        lines.append(f"  classDef {kind} fill:{fill},stroke:{stroke},stroke-width:{width}px")
    return "\n".join(lines) + "\n"


def _mermaid_text(text: str) -> str:
    return text.replace('"', "#quot;").replace("{", "#123;").replace("}", "#125;")


def _caption(step: Step, sides: bool) -> str:
    return ("■ " if step.hard else "") + step.id.replace("_", " ") + (", each side" if sides else "")


def svg(plan: Plan) -> str:
    """The diagram as a self-contained SVG page: steps down the page, ways past steps on the right."""
    nodes = _nodes(plan)
    index = {node.step.id if node.step is not None else CLOSED: number for number, node in enumerate(nodes)}
    jumps = [(s, t) for s, t in ways(plan) if index[t] - index[s] > 1]
    top = _MARGIN + 70
    width = _MARGIN + 90 + _BOX_W + 330 + _LANE * len(jumps)
    height = top + len(nodes) * (_BOX_H + _GAP_Y) + _MARGIN
    left = _MARGIN + 90
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' role="img"><title>{escape(plan.procedure.title)}</title><style>{_STYLE}</style>',
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7"'
        ' orient="auto-start-reverse"><path d="M0 0L8 4L0 8z" fill="#333"/></marker></defs>',
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text class="title" x="{_MARGIN}" y="{_MARGIN}">{escape(plan.procedure.title)}</text>',
        f'<text class="small" x="{_MARGIN}" y="{_MARGIN + 20}">■ and a thick border: hard stop, never skipped. '
        "Blue: light. Dashed: steps that are passed when their condition does not hold.</text>",
    ]
    phase = ""
    for number, node in enumerate(nodes):
        y = top + number * (_BOX_H + _GAP_Y)
        if node.step is not None and node.step.phase != phase:
            phase = node.step.phase
            parts.append(f'<text class="phase" x="{_MARGIN}" y="{y + _BOX_H / 2 + 4}">{_PHASES[phase]}</text>')
        parts += _box(node, left, y)
        if number + 1 < len(nodes):
            middle = left + _BOX_W / 2
            following = nodes[number + 1].step
            condition = _condition(plan, following.id) if following is not None else ""
            parts.append(f'<path class="way" d="M{middle} {y + _BOX_H}V{y + _BOX_H + _GAP_Y}"/>')
            if condition:
                parts.append(
                    f'<text class="small" x="{middle + 8}" y="{y + _BOX_H + 17}">if {escape(condition)}</text>'
                )
    for lane, (source, target) in enumerate(jumps):
        parts.append(_jump(left + _BOX_W, top, index[source], index[target], lane))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _box(node: Node, x: int, y: int) -> list[str]:
    step = node.step
    fill, stroke = _COLOURS[_kind(step)]
    border = 3 if step is not None and step.hard else 1
    box = (
        f'<rect x="{x}" y="{y}" width="{_BOX_W}" height="{_BOX_H}" rx="{22 if step is None else 6}" fill="{fill}"'
        f' stroke="{stroke}" stroke-width="{border}"/>'
    )
    if step is None:
        return [box, f'<text x="{x + 16}" y="{y + 28}">record closed</text>']
    prompt = _short(with_side(step.prompt, None), 54)
    parts = [
        box,
        f'<text x="{x + 12}" y="{y + 20}">{escape(_caption(step, node.sides))}</text>',
        f'<text class="small" x="{x + 12}" y="{y + 37}">{escape(prompt)}</text>',
    ]
    stops = _stops(step)
    if stops:
        for row, text in enumerate(wrap("stops: " + "; ".join(stops), 50)[:3]):
            parts.append(f'<text class="small" x="{x + _BOX_W + 14}" y="{y + 14 + 14 * row}">{escape(text)}</text>')
    return parts


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _jump(right: int, top: int, source: int, target: int, lane: int) -> str:
    y_from = top + source * (_BOX_H + _GAP_Y) + _BOX_H - 8
    y_to = top + target * (_BOX_H + _GAP_Y) + 8
    x = right + 320 + _LANE * lane
    return f'<path class="round" d="M{right} {y_from}H{x}V{y_to}H{right + 4}"/>'
