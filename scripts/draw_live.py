#!/usr/bin/env python3
"""Draws the live screen as an SVG picture, at a moment of a visit that was recorded.

    .venv/bin/handsfree rehearse scripts/scenarios/ulnar-fitting.yaml --record visit
    .venv/bin/python scripts/draw_live.py visit .pictures/live.svg

Without --at-s the moment is two seconds into the second run of light. The record is replayed into a session; what is
shown comes from there, and the same code draws it that draws the terminal.
"""

import argparse
import json
import re
from io import StringIO
from pathlib import Path

from rich._export_format import CONSOLE_SVG_FORMAT
from rich.console import Console, Group

from handsfree.definition.loader import load_bundle
from handsfree.display.screen_layout import ScreenPicture, draw
from handsfree.model.effects import Say
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent, SpeechRejected
from handsfree.record.codec import decode_event
from handsfree.session.session import Session

INTO_RUN_S = 2.0
OUTCOMES: dict[type, str] = {CommandSpoken: "accepted", CommandDoubted: "doubted", SpeechRejected: "not taken"}


def events_of(folder: Path) -> tuple[str, list[SessionEvent]]:
    """Procedure and events of a record."""
    lines = [json.loads(line) for line in (folder / "record.jsonl").read_text(encoding="utf-8").splitlines()]
    events = [line["data"]["event"] for line in lines if line["kind"] == "event"]
    return lines[0]["data"]["procedure"], [decode_event(event) for event in events if event is not None]


def usual_moment(procedure: str, events: list[SessionEvent]) -> float:
    """Two seconds into the second run, or the end of a visit without one."""
    session, runs, lit = Session(load_bundle(procedure)), 0, False
    for event in events:
        session.handle(event)
        runs += session.snapshot.is_lit and not lit
        lit = session.snapshot.is_lit
        if runs == 2:
            return event.at_s + INTO_RUN_S
    return events[-1].at_s


def picture_at(procedure: str, events: list[SessionEvent], at_s: float) -> ScreenPicture:
    """What the screen shows at a moment of the visit."""
    session, picture = Session(load_bundle(procedure)), ScreenPicture(now_s=at_s)
    for event in events:
        if event.at_s > at_s:
            break
        if isinstance(event, CommandSpoken | CommandDoubted | SpeechRejected):
            picture.heard = event.heard.text if event.heard is not None else ""
            picture.outcome = OUTCOMES[type(event)]
            picture.probability = 0.0 if isinstance(event, SpeechRejected) else event.probability
        for effect in session.handle(event):
            if isinstance(effect, Say):
                picture.take_prompt(effect.text, effect.priority)
        picture.snapshot, picture.shown_s = session.snapshot, event.at_s
    # A record holds no sound levels: those of a quiet room.
    picture.level_dbfs, picture.floor_dbfs = -48.0, -55.0
    return picture


def without_fonts() -> str:
    """The library's frame without its fonts, which a reader's machine would fetch from elsewhere."""
    return re.sub(r"@font-face \{\{.*?\}\}", "", CONSOLE_SVG_FORMAT, flags=re.DOTALL).replace("Fira Code, ", "")


def main() -> None:
    """Draw."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("record", type=Path)
    parser.add_argument("picture", type=Path)
    parser.add_argument("--at-s", type=float, help="session time, seconds")
    parser.add_argument("--size", type=int, nargs=2, default=(80, 24), metavar=("COLUMNS", "LINES"))
    arguments = parser.parse_args()
    procedure, events = events_of(arguments.record)
    at_s = arguments.at_s if arguments.at_s is not None else usual_moment(procedure, events)
    width, height = arguments.size
    console = Console(
        record=True, width=width, height=height, file=StringIO(), force_terminal=True, color_system="standard"
    )
    console.print(Group(*draw(picture_at(procedure, events, at_s), width, height)))
    arguments.picture.parent.mkdir(parents=True, exist_ok=True)
    console.save_svg(str(arguments.picture), title="handsfree run", unique_id="live", code_format=without_fonts())


if __name__ == "__main__":
    main()
