"""The state diagram of a procedure: Mermaid text, or SVG without any library.

It is drawn from the plan that the session walks: phases, the gates between them with their guards, and the stages of
each phase in the order in which they are asked, with every rule that somebody approves (`rules`). The smallest type is
13 px, 9.75 points where it is printed at full size: see `card` for how far that is read.
"""

from dataclasses import dataclass
from html import escape
from textwrap import wrap

from handsfree.authoring.rules import RuleBook, RuleKind, grouped
from handsfree.definition.form import Step
from handsfree.definition.plan import Gate, Plan, SideRole, VisitPhase
from handsfree.definition.profile_form import DeviceProfile
from handsfree.definition.side_words import on_paper
from handsfree.record.display_text import capital

_BOX_W, _BOX_H, _GAP_Y, _MARGIN, _LANE = 400, 52, 28, 40, 26
_ROW, _SIDE_W, _WIDEST = 17, 490, 64
"""Height of a line, width of what stands beside the boxes, and its longest line in characters."""
_MOST_NAMED = 6
"""Guards of a gate that are named; of more, their number is told."""
_COLOURS = {
    "hard": ("#fff4e5", "#b35900"),
    "soft": ("#ffffff", "#5f6b7a"),
    "light": ("#e6f0ff", "#0b5cad"),
    "gate": ("#f3ecff", "#5b2ca0"),
    "finish": ("#eeeeee", "#333333"),
}
_STYLE = """
text { font: 15px sans-serif; fill: #1a1a1a; }
.title { font-weight: 600; font-size: 19px; }
.phase { font-weight: 600; fill: #444; }
.small { font-size: 13px; fill: #222; }
.grave { font-weight: 700; }
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


def _condition(book: RuleBook, node: Node) -> str:
    """What must have been answered for a step to be done."""
    return book.condition(node.step) if node.step is not None else ""


def _rules(book: RuleBook, step: Step) -> tuple[str, ...]:
    """The rules of a step, a line for each kind; its condition stands at the way that leads to it."""
    return tuple(f"{kind} {text}" for kind, text in grouped(book.of(step)) if kind is not RuleKind.ONLY_IF)


def _holds(book: RuleBook, step: Step) -> str:
    """What holds the procedure at a step."""
    return "; ".join(f"{kind} {text}" for kind, text in grouped(book.of(step)) if kind in {RuleKind.STOP, RuleKind.RED})


def mermaid(plan: Plan, device: DeviceProfile | None = None) -> str:
    """The diagram as Mermaid flowchart text.

    Args:
        plan: What is drawn.
        device: The device profile that its bands and zones are of.
    """
    book = RuleBook(plan.procedure, device)
    lines = ["flowchart TD"]
    drawn = nodes(plan)
    by_id = {node.id: node for node in drawn}
    phase: VisitPhase | None = None
    for node in drawn:
        if node.step is None:
            lines += ["  end"] if phase is not None else []
            phase = None
            if node.gate is not None:
                text = _mermaid_text(f"gate into {plan.phase_name(node.gate.into)}: {guards(node.gate, plan)}")
                lines.append(f'  {node.id}{{{{"{text}"}}}}:::gate')
            else:
                lines.append(f"  {node.id}([record closed]):::finish")
            continue
        if node.phase is not phase:
            phase = node.phase
            lines.append(f'  subgraph {phase}_phase["{plan.phase_name(phase).capitalize()}"]')
        told = (_caption(node.step, node.sides), *_rules(book, node.step))
        lines.append(f'    {node.id}["{"<br/>".join(map(_mermaid_text, told))}"]:::{_kind(node)}')
    for source, target in ways(plan):
        condition = _mermaid_text(_condition(book, by_id[target]))
        arrow = f'-->|"{condition}"|' if condition else "-->"
        lines.append(f"  {source} {arrow} {target}")
    for node in drawn:
        if node.step is not None and (holds := _holds(book, node.step)):
            lines.append(f'  {node.id} -. "{_mermaid_text(holds)}" .-> held')
    if any(line.endswith("-> held") for line in lines):
        lifts = "<br/>".join(map(_mermaid_text, ("held, lifted by role and reason", *book.lifts())))
        lines.append(f'  held{{{{"{lifts}"}}}}:::finish')
    for kind, (fill, stroke) in _COLOURS.items():
        width = 3 if kind == "hard" else 1
        lines.append(f"  classDef {kind} fill:{fill},stroke:{stroke},stroke-width:{width}px")
    return "\n".join(lines) + "\n"


def _mermaid_text(text: str) -> str:
    return text.replace('"', "#quot;").replace("{", "#123;").replace("}", "#125;")


def _caption(step: Step, sides: bool) -> str:
    return ("■ " if step.hard else "") + step.id.replace("_", " ") + (", each side" if sides else "")


def svg(plan: Plan, device: DeviceProfile | None = None) -> str:
    """The diagram as a self-contained SVG page: steps down the page, their rules beside them, ways past steps beyond.

    Args:
        plan: What is drawn.
        device: The device profile that its bands and zones are of.
    """
    drawn, book = nodes(plan), RuleBook(plan.procedure, device)
    index = {node.id: number for number, node in enumerate(drawn)}
    jumps = [(s, t) for s, t in ways(plan) if index[t] - index[s] > 1]
    beside = [_beside(node, plan, book) for node in drawn]
    lifts = [row for line in book.lifts() for row in wrap(f"Lift {line}", _WIDEST)]
    tops = [_MARGIN + 80 + _ROW * len(lifts)]
    for rows in beside:
        tops.append(tops[-1] + max(_BOX_H, _ROW * len(rows) + 6) + _GAP_Y)
    left = _MARGIN + 110
    width = left + _BOX_W + _SIDE_W + _LANE * len(jumps)
    height = tops[-1] + _MARGIN
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' role="img"><title>{escape(plan.procedure.title)}</title><style>{_STYLE}</style>',
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7"'
        ' orient="auto-start-reverse"><path d="M0 0L8 4L0 8z" fill="#333"/></marker></defs>',
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text class="title" x="{_MARGIN}" y="{_MARGIN}">{escape(plan.procedure.title)}</text>',
        *_lines(
            [
                "■ and a thick border: never skipped. Blue: light. Dashed: passed where the condition does not hold.",
                *lifts,
            ],
            _MARGIN,
            _MARGIN + 24,
        ),
    ]
    phase: VisitPhase | None = None
    for number, node in enumerate(drawn):
        y = tops[number]
        if node.step is not None and node.phase is not phase:
            phase = node.phase
            name = plan.phase_name(phase).capitalize()
            parts.append(f'<text class="phase" x="{_MARGIN}" y="{y + _BOX_H / 2 + 4}">{name}</text>')
        parts += [*_box(node, plan, left, y), *_lines(beside[number], left + _BOX_W + 14, y + 14)]
        if number + 1 < len(drawn):
            middle = left + _BOX_W / 2
            told = _condition(book, drawn[number + 1])
            parts.append(f'<path class="way" d="M{middle} {y + _BOX_H}V{tops[number + 1]}"/>')
            if told:
                parts.append(
                    f'<text class="small" x="{middle + 8}" y="{tops[number + 1] - 9}">if {escape(told)}</text>'
                )
    for lane, (source, target) in enumerate(jumps):
        x = left + _BOX_W + _SIDE_W - 10 + _LANE * lane
        parts.append(_jump(left + _BOX_W, x, tops[index[source]] + _BOX_H - 8, tops[index[target]] + 8))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _beside(node: Node, plan: Plan, book: RuleBook) -> list[str]:
    """What stands beside a box: the guards of a gate, the rules of a step."""
    if node.gate is not None:
        return wrap(guards(node.gate, plan), _WIDEST)
    return [row for line in _rules(book, node.step) for row in wrap(line, _WIDEST)] if node.step is not None else []


def _lines(rows: list[str], x: int, y: int) -> list[str]:
    return [
        f'<text class="{_row_class(text)}" x="{x}" y="{y + _ROW * row}">{escape(text)}</text>'
        for row, text in enumerate(rows)
    ]


def _row_class(text: str) -> str:
    return "small grave" if text.startswith((f"{RuleKind.STOP} ", f"{RuleKind.RED} ")) else "small"


def _box(node: Node, plan: Plan, x: int, y: int) -> list[str]:
    step = node.step
    fill, stroke = _COLOURS[_kind(node)]
    border = 3 if step is not None and step.hard else 1
    round_by = 0 if node.gate is not None else 22 if step is None else 6
    box = (
        f'<rect x="{x}" y="{y}" width="{_BOX_W}" height="{_BOX_H}" rx="{round_by}" fill="{fill}"'
        f' stroke="{stroke}" stroke-width="{border}"/>'
    )
    if node.gate is not None:
        return [box, f'<text x="{x + 16}" y="{y + 32}">gate into {plan.phase_name(node.gate.into)}</text>']
    if step is None:
        return [box, f'<text x="{x + 16}" y="{y + 32}">record closed</text>']
    asked = wrap(capital(on_paper(step.prompt)), 50)
    prompt = asked[0] if len(asked) == 1 else f"{asked[0]} …"
    return [
        box,
        f'<text x="{x + 12}" y="{y + 22}">{escape(_caption(step, node.sides))}</text>',
        f'<text class="small" x="{x + 12}" y="{y + 42}">{escape(prompt)}</text>',
    ]


def _jump(right: int, x: int, y_from: int, y_to: int) -> str:
    return f'<path class="round" d="M{right} {y_from}H{x}V{y_to}H{right + 4}"/>'
