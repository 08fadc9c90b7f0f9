"""Steps that several files share: puts the blocks that a procedure uses in place of the lines that name them.

A block is a list of steps with gaps written as `<name>`. A procedure, or a file that it includes, holds blocks; a line
`use: name` in the steps stands for all of them. What is written where is kept, so that a fault in a block is named at
its own line and a fault in what was put in a gap at the line where that was given.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Annotated, Any

from pydantic import Field

from handsfree.definition.form_base import Identifier, Phrases, Strict
from handsfree.definition.lift_form import LiftRules
from handsfree.definition.source_lines import Path_, SourceLines, validate, validate_part

_GAP = re.compile(r"<([a-z][a-z0-9_]*)>")
SHARED = ("roles", "skip_reasons", "override_reasons", "lift")
"""Lists at the top of an included file that a procedure takes over, its own entries first."""
_DEEPEST = 8

Reader = Callable[[str], SourceLines | None]


class Block(Strict):
    """Steps to be used in more than one place.

    Attributes:
        needs: Gaps that every use must fill.
        defaults: Gaps that a use may fill, with what stands there otherwise; null leaves the key out.
        steps: Steps with gaps written as <name>, or further uses of blocks.
    """

    needs: tuple[Identifier, ...] = ()
    defaults: dict[Identifier, Any] = Field(default_factory=dict)
    steps: Annotated[tuple[dict[str, Any], ...], Field(min_length=1)]


class BlockFile(Strict):
    """A file of blocks that procedures include.

    Attributes:
        form: Version of this form.
        note: What the file is for.
        blocks: The blocks.
        sources: Sources that the steps name.
        roles: See `Procedure`.
        skip_reasons: See `Procedure`.
        override_reasons: See `Procedure`.
        lift: See `Procedure`.
    """

    form: Annotated[int, Field(ge=1, le=1)]
    note: str = ""
    blocks: Annotated[dict[Identifier, Block], Field(min_length=1)]
    sources: dict[Identifier, str] = Field(default_factory=dict)
    roles: dict[Identifier, Phrases] = Field(default_factory=dict)
    skip_reasons: dict[Identifier, Phrases] = Field(default_factory=dict)
    override_reasons: dict[Identifier, Phrases] = Field(default_factory=dict)
    lift: LiftRules = Field(default_factory=LiftRules)


class Use(Strict):
    """A line that stands for the steps of a block.

    Attributes:
        use: Name of the block.
        with_: What fills its gaps.
        when: A condition for all of its steps.
        repeat: One gap with several fillings: the steps stand once for each.
        without: Identifiers of steps that are left out.
    """

    use: Identifier
    with_: Annotated[dict[Identifier, Any], Field(alias="with", default_factory=dict)]
    when: dict[str, Any] | None = None
    repeat: Annotated[dict[Identifier, list[Any]] | None, Field(min_length=1, max_length=1)] = None
    without: tuple[Identifier, ...] = ()


@dataclass(frozen=True)
class _Filling:
    """What fills a gap: a place in a file, and the gaps that were open there."""

    source: SourceLines
    path: Path_
    data: object
    gaps: Mapping[str, "_Filling"]


@dataclass(frozen=True)
class _Known:
    """A block and where it is."""

    source: SourceLines
    path: Path_
    block: Block


@dataclass
class _Expansion:
    """One procedure being put together."""

    main: SourceLines
    out: SourceLines
    blocks: dict[str, _Known] = field(default_factory=dict)
    inside: list[str] = field(default_factory=list)

    def fault(self, source: SourceLines, path: Path_, text: str) -> None:
        self.out.faults.append((source.origin_of(path), text))


def expand(source: SourceLines, read: Reader, bundled: Collection[str] = ()) -> SourceLines:
    """Put the blocks in.

    Args:
        source: The procedure as written.
        read: Finds and reads an included file by name; None if there is none.
        bundled: Names of the bundled files, for whoever has misspelt one.

    Returns:
        The procedure as if it had been written out, with all faults; the same source if it uses no blocks.
    """
    data = source.data
    if not isinstance(data, dict) or not ({"include", "blocks"} & set(data) or _uses(data)):
        return source
    out = SourceLines(source.name, faults=list(source.faults), parts=source.parts)
    work = _Expansion(source, out)
    parts = list(_included(work, read, bundled))
    _gather_blocks(work, source)
    whole: dict[str, object] = {}
    for key in data:
        if key not in {"include", "blocks", "steps"}:
            whole[key] = _copy(work, _Filling(source, (key,), data[key], {}), (key,))
    steps = data.get("steps")
    if isinstance(steps, list):
        out.origins["steps",] = source.origin_of(("steps",))
        made: list[object] = []
        _put_steps(work, _Filling(source, ("steps",), steps, {}), made)
        whole["steps"] = made
    elif "steps" in data:
        whole["steps"] = _copy(work, _Filling(source, ("steps",), steps, {}), ("steps",))
    _share(work, parts, whole)
    out.data = whole
    return out


def _uses(data: Mapping[str, object]) -> bool:
    steps = data.get("steps")
    return isinstance(steps, list) and any(isinstance(step, dict) and "use" in step for step in steps)


def _included(work: _Expansion, read: Reader, bundled: Collection[str]) -> Iterator[SourceLines]:
    data = work.main.data
    names = data.get("include", []) if isinstance(data, dict) else []
    if not isinstance(names, list):
        work.fault(work.main, ("include",), "must be a list of names of block files")
        return
    for number, name in enumerate(names):
        where = ("include", number)
        if not isinstance(name, str) or not re.fullmatch(r"[a-z][a-z0-9-]*", name):
            work.fault(work.main, where, f"{name!r} is no name of a block file (lower case, without .yaml)")
            continue
        part = read(name)
        if part is None:
            near = get_close_matches(name, bundled, 1) or sorted(bundled)
            told = f"did you mean {', '.join(near)}?" if len(near) == 1 else f"bundled: {', '.join(near)}"
            text = f"there is no file {name}.yaml beside the procedure, in its folder blocks or bundled ({told})"
            work.fault(work.main, where, text)
            continue
        work.out.parts = (*work.out.parts, part.name)
        _gather_blocks(work, part)
        yield part


def _gather_blocks(work: _Expansion, source: SourceLines) -> None:
    """Take over the blocks of a file; the whole file is checked if it is one of blocks only."""
    blocks = source.data.get("blocks") if isinstance(source.data, dict) else None
    if source is not work.main:
        checked = validate(source, BlockFile)
        found = dict(checked.blocks) if checked is not None else {}
    elif isinstance(blocks, dict):
        pairs = {
            str(name): validate_part(source, ("blocks", str(name)), block, Block) for name, block in blocks.items()
        }
        found = {name: block for name, block in pairs.items() if block is not None}
    else:
        if blocks is not None:
            work.fault(source, ("blocks",), "must be a mapping of names to blocks")
        return
    work.out.faults += [fault for fault in source.faults if fault not in work.out.faults]
    for name, block in found.items():
        if name in work.blocks:
            work.fault(source, ("blocks", name), f"there is another block {name} (give it another name)")
        work.blocks[name] = _Known(source, ("blocks", name), block)


def _put_steps(work: _Expansion, steps: _Filling, made: list[object]) -> None:
    assert isinstance(steps.data, list)  # noqa: S101 - the caller checks
    for index, item in enumerate(steps.data):
        here = _Filling(steps.source, (*steps.path, index), item, steps.gaps)
        if isinstance(item, dict) and "use" in item:
            _put_block(work, here, made)
        else:
            made.append(_copy(work, here, ("steps", len(made))))


def _put_block(work: _Expansion, here: _Filling, made: list[object]) -> None:
    use = validate_part(here.source, here.path, here.data, Use)
    if use is None:
        work.out.faults += [fault for fault in here.source.faults if fault not in work.out.faults]
        return
    known = work.blocks.get(use.use)
    if known is None:
        near = get_close_matches(use.use, work.blocks, 1) or sorted(work.blocks)
        known_ones = f"did you mean {', '.join(near)}?" if near else "no file with blocks is included"
        work.fault(here.source, (*here.path, "use"), f"there is no block {use.use} ({known_ones})")
        return
    if use.use in work.inside or len(work.inside) >= _DEEPEST:
        work.fault(here.source, (*here.path, "use"), f"block {use.use} stands inside itself")
        return
    gaps = _fill(work, here, use, known)
    if gaps is None:
        return
    work.inside.append(use.use)
    first = len(made)
    for filling in gaps:
        steps = _Filling(known.source, (*known.path, "steps"), _list_at(known), filling)
        _put_steps(work, steps, made)
    work.inside.pop()
    _leave_out(work, here, use, made, first)
    if use.when is not None:
        _condition(work, here, made, first)


def _list_at(known: _Known) -> object:
    data: Any = known.source.data
    for key in (*known.path, "steps"):
        data = data[key]
    return data


def _fill(work: _Expansion, here: _Filling, use: Use, known: _Known) -> list[dict[str, _Filling]] | None:
    """The fillings of a block's gaps, one for each time that it stands; None if something is wrong."""
    block = known.block
    data: Any = here.data
    allowed = {*block.needs, *block.defaults}
    repeated = next(iter(use.repeat), None) if use.repeat else None
    given = {*use.with_, *([repeated] if repeated is not None else [])}
    unknown, missing = sorted(given - allowed), sorted(set(block.needs) - given)
    for name in unknown:
        where = (*here.path, "repeat" if name == repeated else "with", name)
        work.fault(here.source, where, f"block {use.use} has no gap {name} (it has: {', '.join(sorted(allowed))})")
    if missing:
        work.fault(here.source, (*here.path, "with"), f"block {use.use} needs {', '.join(missing)}")
    if unknown or missing:
        return None
    filled = {
        name: _Filling(known.source, (*known.path, "defaults", name), value, {})
        for name, value in block.defaults.items()
    }
    for name in use.with_:
        filled[name] = _Filling(here.source, (*here.path, "with", name), data["with"][name], here.gaps)
    if repeated is None or use.repeat is None:
        return [filled]
    return [
        {**filled, repeated: _Filling(here.source, (*here.path, "repeat", repeated, number), value, here.gaps)}
        for number, value in enumerate(use.repeat[repeated])
    ]


def _leave_out(work: _Expansion, here: _Filling, use: Use, made: list[object], first: int) -> None:
    kept = [(step, number) for number, step in enumerate(made[first:], start=first) if _id_of(step) not in use.without]
    names = {_id_of(step) for step in made[first:]}
    for number, name in enumerate(use.without):
        if name not in names:
            work.fault(here.source, (*here.path, "without", number), f"block {use.use} has no step {name}")
    if len(kept) == len(made) - first:
        return
    for index, (_, number) in enumerate(kept, start=first):
        moved = {p: o for p, o in work.out.origins.items() if p[:2] == ("steps", number)}
        for path in [p for p in work.out.origins if p[:2] == ("steps", index)]:
            del work.out.origins[path]
        work.out.origins.update({("steps", index, *path[2:]): origin for path, origin in moved.items()})
    made[first:] = [step for step, _ in kept]
    for path in [p for p in work.out.origins if p[:1] == ("steps",) and len(p) > 1 and int(p[1]) >= len(made)]:
        del work.out.origins[path]


def _id_of(step: object) -> str:
    return str(step.get("id")) if isinstance(step, dict) else ""


def _condition(work: _Expansion, here: _Filling, made: list[object], first: int) -> None:
    assert isinstance(here.data, dict)  # noqa: S101 - the caller checks
    for number, step in enumerate(made[first:], start=first):
        if isinstance(step, dict):
            if "when" in step:
                work.fault(here.source, (*here.path, "when"), f"step {_id_of(step)} of the block has its own when")
                continue
            when = _Filling(here.source, (*here.path, "when"), here.data["when"], here.gaps)
            step["when"] = _copy(work, when, ("steps", number, "when"))


def _share(work: _Expansion, parts: list[SourceLines], whole: dict[str, object]) -> None:
    """Take over sources that a step uses, and roles and reasons."""
    steps = whole.get("steps")
    stated = [step for step in (steps if isinstance(steps, list) else []) if isinstance(step, dict)]
    fields = [field for step in stated for field in _mappings(step.get("fields"))]
    used = {str(part.get("source")) for part in (*stated, *fields)}
    used |= {
        str(part.get(key))
        for field in fields
        for part in _mappings([field.get("number"), field.get("date"), field.get("code")])
        for key in ("range_source", "error_source", "source")
    }
    for part in parts:
        data = part.data if isinstance(part.data, dict) else {}
        for key in ("sources", *SHARED):
            shared, own = data.get(key), whole.setdefault(key, {})
            if not isinstance(shared, dict) or not isinstance(own, dict):
                continue
            for name, value in shared.items():
                if name not in own and (key != "sources" or name in used):
                    own[name] = _copy(work, _Filling(part, (key, name), value, {}), (key, name))


def _mappings(value: object) -> list[dict[str, object]]:
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []


def _copy(work: _Expansion, here: _Filling, to: Path_) -> object:
    """A value with its gaps filled, and where each part of it is written."""
    data = here.data
    if isinstance(data, str):
        whole = _GAP.fullmatch(data)
        if whole is not None and whole[1] in here.gaps:
            return _copy(work, here.gaps[whole[1]], to)
        work.out.origins[to] = here.source.origin_of(here.path)
        return _GAP.sub(lambda gap: _text(work, here, gap[1]), data) if here.path[0] == "blocks" else data
    work.out.origins[to] = here.source.origin_of(here.path)
    if isinstance(data, dict):
        return _copy_mapping(work, here, data, to)
    if isinstance(data, list):
        return _copy_list(work, here, data, to)
    return data


def _copy_mapping(work: _Expansion, here: _Filling, data: dict[str, object], to: Path_) -> dict[str, object]:
    copied: dict[str, object] = {}
    for key, value in data.items():
        part = _Filling(here.source, (*here.path, key), value, here.gaps)
        final = _through(part)
        if final.data is None and final is not part:
            continue
        copied[key] = _copy(work, part, (*to, key))
    return copied


def _copy_list(work: _Expansion, here: _Filling, data: list[object], to: Path_) -> list[object]:
    copied: list[object] = []
    for index, value in enumerate(data):
        part = _Filling(here.source, (*here.path, index), value, here.gaps)
        final = _through(part)
        if final is not part and isinstance(final.data, list):
            for number, item in enumerate(final.data):
                spliced = _Filling(final.source, (*final.path, number), item, final.gaps)
                copied.append(_copy(work, spliced, (*to, len(copied))))
        elif final is part or final.data is not None:
            copied.append(_copy(work, part, (*to, len(copied))))
    return copied


def _through(part: _Filling) -> _Filling:
    """What a gap comes to, through gaps that are filled with gaps; the part itself if it is no gap."""
    while isinstance(part.data, str) and (whole := _GAP.fullmatch(part.data)) and whole[1] in part.gaps:
        part = part.gaps[whole[1]]
    return part


def _text(work: _Expansion, here: _Filling, name: str) -> str:
    gap = here.gaps.get(name)
    if gap is None:
        names = ", ".join(sorted(here.gaps)) or "none"
        work.fault(here.source, here.path, f"<{name}> is not among needs or defaults of the block (there: {names})")
        return f"<{name}>"
    final = _through(gap)
    if isinstance(final.data, dict | list | bool):
        work.fault(final.source, final.path, f"<{name}> stands inside a text, so it must be filled with a text")
        return ""
    text = "" if final.data is None else str(final.data)
    return _GAP.sub(lambda inner: _text(work, final, inner[1]), text) if final.gaps else text
