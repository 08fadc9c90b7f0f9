"""One picture of a live session as lines of text, for any size from 40 by 12. Pure: no console, no clock.

Meaning is in words and shapes; colour only adds to them, because amber eyewear and blue light take colours away.
"""

import textwrap
from dataclasses import dataclass

from rich.text import Text

from handsfree.model.effects import Priority
from handsfree.session.snapshot import Snapshot, ZoneView

SMALL_HEIGHT = 18
"""Below this many lines only what is needed now is shown."""
METER_FROM_DBFS = -70.0
METER_TO_DBFS = -10.0
_OUTCOMES = {
    "accepted": "= TAKEN",
    "doubted": "? ASKED",
    "not taken": "x NOT TAKEN",
    "not for me": "- NOT FOR ME",
}
_DIGITS = {
    "0": (" _ ", "| |", "|_|"),
    "1": ("   ", "  |", "  |"),
    "2": (" _ ", " _|", "|_ "),
    "3": (" _ ", " _|", " _|"),
    "4": ("   ", "|_|", "  |"),
    "5": (" _ ", "|_ ", " _|"),
    "6": (" _ ", "|_ ", "|_|"),
    "7": (" _ ", "  |", "  |"),
    "8": (" _ ", "|_|", "|_|"),
    "9": (" _ ", "|_|", " _|"),
    ".": (" ", " ", "."),
    " ": (" ", " ", " "),
    "/": ("  ", " /", "/ "),
}


@dataclass(slots=True)
class ScreenPicture:
    """Everything that the screen shows.

    Attributes:
        snapshot: Where the procedure stands, or None before the start.
        now_s: Session time.
        shown_s: Session time of the snapshot.
        said: What the tool said last.
        urgent: Whether that was more than a prompt.
        heard: Words heard last.
        outcome: What became of them.
        probability: How surely they were heard, 0 … 1.
        level_dbfs: Level of the microphone now.
        floor_dbfs: Noise floor.
        deaf: Whether the tool does not listen at this moment, because it speaks.
        notice: About devices or the room; empty for none.
    """

    snapshot: Snapshot | None = None
    now_s: float = 0.0
    shown_s: float = 0.0
    said: str = ""
    urgent: bool = False
    heard: str = ""
    outcome: str = ""
    probability: float = 0.0
    level_dbfs: float = -90.0
    floor_dbfs: float = -90.0
    deaf: bool = False
    notice: str = ""

    def take_prompt(self, text: str, priority: Priority) -> None:
        """Show what was said; a remark in passing does not push a warning away."""
        if priority is Priority.INFORMATION and self.urgent:
            return
        self.said = text
        self.urgent = priority >= Priority.ATTENTION


def draw(picture: ScreenPicture, width: int, height: int) -> list[Text]:
    """The lines, at most `height` of at most `width` cells; what matters most is never left out.

    Args:
        picture: What to show.
        width: Columns, 40 or more.
        height: Lines, 12 or more.
    """
    small = height < SMALL_HEIGHT or width < 60
    snapshot = picture.snapshot
    top = [_header(picture, width), *_hold(picture, width)]
    foot = [_meter(picture, width)]
    if picture.notice:
        foot.insert(0, Text(f"!! {picture.notice.upper()}", style="bold reverse"))
    say = _block("SAY ", snapshot.hint.removeprefix("say ") if snapshot else "", width, 2 if small else 3, "bold")
    heard = _heard(picture, width)
    prompt_room = 3 if small else 4
    prompt = _block("!! " if picture.urgent else "> ", picture.said, width, prompt_room, "bold")
    lit = _lit(picture, width, small=small)
    needed = [*top, *prompt, *lit, *say, *heard]
    if not small:
        needed = [*top, Text(), *prompt, Text(), *lit, *say, *heard, Text()]
    zones = _zones(picture, width, max(0, height - len(needed) - len(foot)))
    lines = [*needed, *zones]
    lines = lines[: height - len(foot)]
    lines += [Text()] * (height - len(foot) - len(lines))
    lines += foot
    for line in lines:
        line.truncate(width, overflow="ellipsis")
        line.no_wrap = True
    return lines


def _header(picture: ScreenPicture, width: int) -> Text:
    snapshot = picture.snapshot
    minutes, seconds = divmod(int(max(0.0, picture.now_s)), 60)
    clock = f"{minutes:02d}:{seconds:02d}"
    if snapshot is None:
        return Text(clock)
    practice = "PRACTICE " if snapshot.practice else ""
    right = f" {practice}{snapshot.done}/{snapshot.total} {clock}"
    step = snapshot.step_id.replace("_", " ").replace("@", " ").upper()
    left = step if width < 60 else f"{step}  -  {snapshot.title}"
    line = Text(left, style="bold")
    line.truncate(width - len(right), overflow="ellipsis", pad=True)
    line.append(right, style="reverse" if practice else "")
    return line


def _hold(picture: ScreenPicture, width: int) -> list[Text]:
    """The hold, as a bar of its own shape across the screen."""
    if picture.snapshot is None or picture.snapshot.hold is None:
        return []
    bar = Text(f"[■■ HELD ■■] {picture.snapshot.hold}", style="bold white on red")
    bar.truncate(width, overflow="ellipsis", pad=True)
    return [bar]


def _block(mark: str, text: str, width: int, most: int, style: str) -> list[Text]:
    if not text:
        return []
    parts = textwrap.wrap(text, width - len(mark), max_lines=most, placeholder=" …")
    return [Text((mark if not number else " " * len(mark)) + part, style=style) for number, part in enumerate(parts)]


def _heard(picture: ScreenPicture, width: int) -> list[Text]:
    if not picture.outcome:
        return []
    mark = _OUTCOMES.get(picture.outcome, picture.outcome.upper())
    sure = f" {picture.probability:.0%}" if picture.probability else ""
    words = f": {picture.heard}" if picture.heard else ""
    line = Text(f"HEARD {mark}{sure}{words}", style="bold" if picture.outcome == "accepted" else "")
    line.truncate(width, overflow="ellipsis")
    return [line]


def lit_s_now(picture: ScreenPicture, zone: ZoneView) -> float:
    """Seconds as heard, counted on since the last event while the light is on."""
    return zone.lit_s + (max(0.0, picture.now_s - picture.shown_s) if zone.lit else 0.0)


def _lit(picture: ScreenPicture, width: int, *, small: bool) -> list[Text]:
    """While lit: the seconds in large digits."""
    zone = next((zone for zone in picture.snapshot.zones if zone.lit), None) if picture.snapshot else None
    if zone is None:
        return []
    seconds = f"{lit_s_now(picture, zone):.1f}/{zone.target_s:g}"
    over = " OVER" if lit_s_now(picture, zone) > zone.target_s else ""
    name = Text(f"* LIGHT ON: {zone.label}{over}", style="bold reverse")
    name.truncate(width, overflow="ellipsis")
    if small:
        name.append(f" {seconds} s")
        return [name]
    rows = [Text(" ".join(_DIGITS[c][row] for c in seconds), style="bold") for row in range(3)]
    return [name, *rows]


def _zones(picture: ScreenPicture, width: int, room: int) -> list[Text]:
    """One line a zone; where there is no room for all, those that are short come first."""
    snapshot = picture.snapshot
    if snapshot is None or room <= 0 or not any(zone.lit_s or zone.lit for zone in snapshot.zones):
        return []
    zones = snapshot.zones
    if room < len(zones):
        zones = tuple(sorted(zones, key=lambda zone: zone.lit_s >= zone.reached_from_s))[:room]
    cells = 10 if width < 60 else 20
    numbers = [_zone_numbers(picture, zone) for zone in zones]
    # One width for all, so that the bars stand below each other.
    most = max(4, width - cells - 3 - max(map(len, numbers)))
    labels = min(most, max(len(zone.label) for zone in zones))
    return [_zone(picture, zone, words, labels, cells) for zone, words in zip(zones, numbers, strict=True)]


def _zone_numbers(picture: ScreenPicture, zone: ZoneView) -> str:
    lit_s = lit_s_now(picture, zone)
    word = "LIT" if zone.lit else "reached" if lit_s >= zone.reached_from_s else "short" if lit_s else "dark"
    return f" {lit_s:5.1f}/{zone.target_s:g} s {word}{' strap' if zone.strap_shadowed else ''}"


def _zone(picture: ScreenPicture, zone: ZoneView, numbers: str, width: int, cells: int) -> Text:
    full = min(cells, int(cells * lit_s_now(picture, zone) / zone.target_s)) if zone.target_s else 0
    line = Text(zone.label)
    line.truncate(width, overflow="ellipsis", pad=True)
    line.append(f" [{'#' * full}{'.' * (cells - full)}]{numbers}", style="bold" if zone.lit else "")
    return line


def _meter(picture: ScreenPicture, width: int) -> Text:
    """Level as a bar, the noise floor as a mark on it."""
    word = "SPEAKING " if picture.deaf else "LISTENING"
    cells = max(8, min(40, width - len(word) - 14))
    span = METER_TO_DBFS - METER_FROM_DBFS

    def cell(dbfs: float) -> int:
        return max(0, min(cells, round(cells * (dbfs - METER_FROM_DBFS) / span)))

    bar = ["="] * cell(picture.level_dbfs) + [" "] * (cells - cell(picture.level_dbfs))
    floor = cell(picture.floor_dbfs)
    if floor:
        bar[min(cells - 1, floor)] = "|"
    return Text(f"{word} [{''.join(bar)}] {picture.level_dbfs:4.0f} dB", style="reverse" if picture.deaf else "")
