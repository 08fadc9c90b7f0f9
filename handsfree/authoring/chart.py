"""The state diagram of a procedure: Mermaid text, or SVG without any library.

It is drawn from the plan that the session walks: phases, the gates between them with their guards, and the stages of
each phase in the order in which they are asked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from textwrap import wrap

from handsfree.definition.form import Step
from handsfree.definition.plan import Gate, Plan, SideRole, VisitPhase
from handsfree.definition.side_words import on_paper

_BOX_W, _BOX_H, _GAP_Y, _MARGIN, _LANE = 340, 46, 26, 40, 26
_PHASES = {phase: phase.value.replace("_", " ").capitalize() for phase in VisitPhase}
_MOST_NAMED = 6
"""Guards of a gate that are named; of more, their number is told."""
_HOLDS = {"red", "stop"}
"""Classes that hold the procedure."""
_COLOURS = {
    "hard": ("#fff4e5", "#b35900"),
    "soft": ("#ffffff", "#5f6b7a"),
    "light": ("#e6f0ff", "#0b5cad"),
    "gate": ("#f3ecff", "#5b2ca0"),
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
    """A step in the diagram, a gate before the phase that it leads into, or, as neither, the end.

    Attributes:
        step: The step.
        sides: Whether it is done for each side.
        gate: The gate.
        phase: The phase that it belongs to.
    """

    step: Step | None = None
    sides: bool = False
    gate: Gate | None = None
    phase: VisitPhase = VisitPhase.CLOSING

    @property
    def id(self) -> str:
        """Its name in the diagram."""
        if self.gate is not None:
            return f"gate_{self.gate.into}"
        return f"step_{self.step.id}" if self.step is not None else "closed"


def nodes(plan: Plan) -> list[Node]:
    """Everything that is drawn, from the top down."""
    gates = {gate.into: gate for gate in plan.gates}
    found: list[Node] = []
    for stage in plan.stages:
        phase = plan.phases[stage.id]
        if found and found[-1].phase is not phase:
            found.append(Node(gate=gates[phase], phase=phase))
        if stage.role in {None, SideRole.INJURED} and stage.number <= 1:
            found.append(Node(stage.step, stage.role is not None, phase=phase))
    return [*found, Node(gate=gates[VisitPhase.CLOSING]), Node()]


def ways(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Every way ahead between what is drawn: to the next, and past steps that their `when` may leave out.

    No way leads past a gate.
    """
    drawn = nodes(plan)
    found: list[tuple[str, str]] = []
    for number, node in enumerate(drawn[:-1]):
        for later in drawn[number + 1 :]:
            found.append((node.id, later.id))
            if later.step is None or later.step.when is None:
                break
    return tuple(found)


def guards(gate: Gate, plan: Plan) -> str:
    """What opens a gate, in words."""
    steps = list(dict.fromkeys(plan.stage(stage_id).step.id for stage_id in gate.answered))
    never = list(dict.fromkeys(plan.stage(stage_id).step.id for stage_id in gate.not_skipped))
    parts = ["nothing held"]
    if steps:
        named = ", ".join(steps) if len(steps) <= _MOST_NAMED else f"all {len(steps)} hard steps before"
        parts.append(f"done: {named}")
    if never:
        parts.append(f"not skipped: {', '.join(never)}")
    return "; ".join(parts).replace("_", " ")


def _kind(node: Node) -> str:
    if node.step is None:
        return "gate" if node.gate is not None else "finish"
    return "light" if node.step.kind == "expose" else "hard" if node.step.hard else "soft"


def _condition(step: Step | None) -> str:
    """What must have been answered for a step to be done."""
    if step is None or step.when is None:
        return ""
    return step.when.words()


def _stops(step: Step) -> tuple[str, ...]:
    """What holds the procedure at a step, in words."""
    found = []
    for field in step.fields:
        options = [*field.stop, *field.red]
        number = field.number
        if options:
            found.append(f"{field.label} {' or '.join(options)}".replace("_", " "))
        held = [limit for limit in number.limits if limit.class_ in _HOLDS] if number is not None else []
        found += [f"{field.label} {'over' if limit.above else 'under'} {limit.bound}" for limit in held]
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
    drawn = nodes(plan)
    by_id = {node.id: node for node in drawn}
    phase: VisitPhase | None = None
    for node in drawn:
        if node.step is None:
            lines += ["  end"] if phase is not None else []
            phase = None
            if node.gate is not None:
                text = _mermaid_text(f"gate into {node.gate.into.replace('_', ' ')}: {guards(node.gate, plan)}")
                lines.append(f'  {node.id}{{{{"{text}"}}}}:::gate')
            else:
                lines.append(f"  {node.id}([record closed]):::finish")
            continue
        if node.phase is not phase:
            phase = node.phase
            lines.append(f'  subgraph {phase}_phase["{_PHASES[phase]}"]')
        lines.append(f'    {node.id}["{_mermaid_text(_caption(node.step, node.sides))}"]:::{_kind(node)}')
    for source, target in ways(plan):
        condition = _mermaid_text(_condition(by_id[target].step))
        arrow = f'-->|"{condition}"|' if condition else "-->"
        lines.append(f"  {source} {arrow} {target}")
    for node in drawn:
        if node.step is not None and (stops := _stops(node.step)):
            lines.append(f'  {node.id} -. "{_mermaid_text("; ".join(stops))}" .-> held')
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
    drawn = nodes(plan)
    index = {node.id: number for number, node in enumerate(drawn)}
    jumps = [(s, t) for s, t in ways(plan) if index[t] - index[s] > 1]
    top = _MARGIN + 70
    width = _MARGIN + 90 + _BOX_W + 330 + _LANE * len(jumps)
    height = top + len(drawn) * (_BOX_H + _GAP_Y) + _MARGIN
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
    phase: VisitPhase | None = None
    for number, node in enumerate(drawn):
        y = top + number * (_BOX_H + _GAP_Y)
        if node.step is not None and node.phase is not phase:
            phase = node.phase
            parts.append(f'<text class="phase" x="{_MARGIN}" y="{y + _BOX_H / 2 + 4}">{_PHASES[phase]}</text>')
        parts += _box(node, left, y, plan)
        if number + 1 < len(drawn):
            middle = left + _BOX_W / 2
            condition = _condition(drawn[number + 1].step)
            parts.append(f'<path class="way" d="M{middle} {y + _BOX_H}V{y + _BOX_H + _GAP_Y}"/>')
            if condition:
                parts.append(
                    f'<text class="small" x="{middle + 8}" y="{y + _BOX_H + 17}">if {escape(condition)}</text>'
                )
    for lane, (source, target) in enumerate(jumps):
        parts.append(_jump(left + _BOX_W, top, index[source], index[target], lane))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _box(node: Node, x: int, y: int, plan: Plan) -> list[str]:
    step = node.step
    fill, stroke = _COLOURS[_kind(node)]
    border = 3 if step is not None and step.hard else 1
    round_by = 0 if node.gate is not None else 22 if step is None else 6
    box = (
        f'<rect x="{x}" y="{y}" width="{_BOX_W}" height="{_BOX_H}" rx="{round_by}" fill="{fill}"'
        f' stroke="{stroke}" stroke-width="{border}"/>'
    )
    if node.gate is not None:
        rows = wrap(guards(node.gate, plan), 50)[:3]
        told = [
            f'<text class="small" x="{x + _BOX_W + 14}" y="{y + 14 + 14 * row}">{escape(text)}</text>'
            for row, text in enumerate(rows)
        ]
        into = node.gate.into.value.replace("_", " ")
        return [box, f'<text x="{x + 16}" y="{y + 28}">gate into {into}</text>', *told]
    if step is None:
        return [box, f'<text x="{x + 16}" y="{y + 28}">record closed</text>']
    prompt = _short(on_paper(step.prompt), 54)
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
