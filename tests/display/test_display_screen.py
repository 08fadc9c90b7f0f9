"""Screens on a captured console at 80 by 24 and 40 by 12: what must be readable, and that nothing is outside."""

from io import StringIO

import pytest
from rich.console import Console

from handsfree.display import ConversationView, LiveScreen
from handsfree.display.screen_layout import ScreenPicture, draw
from handsfree.model.effects import Earcon, Priority
from handsfree.session.snapshot import Snapshot, ZoneView

SIZES = [(80, 24), (40, 12)]


def zone(name: str, lit_s: float, *, lit: bool = False, strap: bool = False) -> ZoneView:
    return ZoneView(name, f"{name} part", lit_s, 40.0, strap, lit)


ZONES = (zone("front", 40.0), zone("back", 12.5, lit=True), zone("thumb", 0.0), zone("strip", 0.0, strap=True))


def snapshot(**changes: object) -> Snapshot:
    values: dict[str, object] = {
        "step_id": "circulation_before@left",
        "title": "A fitting with an invented and rather long title",
        "phase": "before",
        "mode": "asking",
        "prompt": "Left hand: color, warmth, refill?",
        "hint": "say color, warmth, refill, then what you see",
        "done": 7,
        "total": 41,
    }
    return Snapshot(**{**values, **changes})  # type: ignore[arg-type]


def lines_of(picture: ScreenPicture, width: int, height: int) -> list[str]:
    return [line.plain for line in draw(picture, width, height)]


def picture(**changes: object) -> ScreenPicture:
    made = ScreenPicture(snapshot=snapshot(), now_s=754.0, shown_s=754.0, said="Left hand: color, warmth, refill?")
    for name, value in changes.items():
        setattr(made, name, value)
    return made


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_is_needed_now_is_on_every_screen(width: int, height: int) -> None:
    lines = lines_of(picture(heard="color pink", outcome="accepted", probability=0.97, level_dbfs=-31.0), width, height)
    text = "\n".join(lines)
    assert len(lines) == height
    assert all(len(line) <= width for line in lines)
    assert "CIRCULATION BEFORE" in lines[0]
    assert lines[0].endswith("7/41 12:34")
    assert "> Left hand: color, warmth, refill?" in text
    assert "SAY color, warmth, refill" in text
    assert "HEARD = TAKEN 97%: color pink" in text
    assert lines[-1].startswith("LISTENING [")
    assert lines[-1].endswith("-31 dB")


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize(
    "trouble",
    [
        {},
        {"said": "One very long prompt " * 20, "urgent": True},
        {"heard": "first one six point five " * 10, "outcome": "not taken"},
        {"notice": "the microphone is lost: plug it in again, and wait until this goes away"},
    ],
)
def test_nothing_is_ever_outside_the_screen(width: int, height: int, trouble: dict[str, object]) -> None:
    full = picture(snapshot=snapshot(hold="Refill over two seconds. " * 5, zones=ZONES * 3, practice=True), **trouble)
    lines = lines_of(full, width, height)
    assert len(lines) == height
    assert all(len(line) <= width for line in lines)
    assert "PRACTICE" in lines[0]
    assert lines[1].startswith("[■■ HELD ■■] Refill over two")
    assert "LIGHT ON: back part" in "\n".join(lines)
    assert "SAY" in "\n".join(lines)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_while_lit_seconds_run_on_between_events(width: int, height: int) -> None:
    lit = picture(snapshot=snapshot(zones=ZONES), now_s=757.5, shown_s=755.0)
    assert "15.0" in "\n".join(lines_of(lit, 80, 24)), "12.5 s when shown, and 2.5 s since"
    # The large digits are drawn; the small screen says them.
    if height == 12:
        assert "* LIGHT ON: back part 15.0/40 s" in "\n".join(lines_of(lit, width, height))
    lit.now_s = 784.0
    assert "OVER" in "\n".join(lines_of(lit, width, height))


def test_the_zone_table_says_in_words_and_bars_how_each_stands() -> None:
    text = "\n".join(lines_of(picture(snapshot=snapshot(zones=ZONES)), 80, 24))
    for row in (
        "front part [####################]  40.0/40 s reached",
        "back part  [######..............]  12.5/40 s LIT",
        "thumb part [....................]   0.0/40 s dark",
        "strip part [....................]   0.0/40 s dark strap",
    ):
        assert " ".join(row.split()) in " ".join(text.split())
    assert (
        len({line.index("[") for line in text.splitlines() if " part" in line and " s " in line and "[" in line}) == 1
    )


def test_the_level_meter_marks_the_noise_floor_and_says_when_it_is_deaf() -> None:
    line = lines_of(picture(level_dbfs=-40.0, floor_dbfs=-60.0), 80, 24)[-1]
    assert 0 < line.index("|") < line.rindex("=")
    assert lines_of(picture(deaf=True), 80, 24)[-1].startswith("SPEAKING ")


def test_a_remark_does_not_push_a_warning_away_and_the_next_question_does() -> None:
    shown = picture()
    shown.take_prompt("Held. Refill over two seconds.", Priority.ATTENTION)
    shown.take_prompt("Half.", Priority.INFORMATION)
    assert any(line.startswith("!! Held. Refill") for line in lines_of(shown, 80, 24))
    shown.take_prompt("Left hand: color?", Priority.PROMPT)
    assert any(line.startswith("> Left hand") for line in lines_of(shown, 80, 24))


def console(width: int, height: int, **options: object) -> Console:
    return Console(file=StringIO(), width=width, height=height, force_terminal=True, **options)  # type: ignore[arg-type]


def written(to: Console) -> str:
    assert isinstance(to.file, StringIO)
    return to.file.getvalue()


def show_something(screen: LiveScreen | ConversationView) -> None:
    screen.tool(1.0, "Left hand: color?", Priority.ATTENTION)
    screen.heard(2.0, "color pink", "accepted", 0.97)
    screen.sound(2.0, Earcon.RECORDED)
    screen.show(2.0, snapshot(hold="Refill over two seconds", zones=ZONES))
    screen.levels(3.0, -30.0, -60.0, deaf=False)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_with_no_color_the_screen_is_written_without_any_and_says_the_same(
    width: int, height: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = []
    for no_color in ("", "1"):
        monkeypatch.setenv("NO_COLOR", no_color)
        to = console(width, height, color_system="standard")
        with LiveScreen(to) as screen:
            show_something(screen)
        text = written(to)
        assert ("\x1b[1;37;41m" in text) is (no_color == "")
        plain.append(text)
    assert all("HELD" in text and "color pink" in text for text in plain)


def test_a_loss_stays_on_the_screen_until_it_is_over() -> None:
    to = console(80, 24, color_system=None)
    with LiveScreen(to) as screen:
        screen.show(0.0, snapshot())
        screen.notice(1.0, "microphone lost: plug it in again")
        screen.notice(2.0, "some sound was lost: this machine is too busy")
        screen.levels(20.0, -30.0, -60.0, deaf=False)
        after_notice = written(to).rpartition("LISTENING")[0].rpartition("LISTENING")[2]
        assert "MICROPHONE LOST" in after_notice
        screen.notice(21.0, "microphone is back")
        screen.levels(40.0, -30.0, -60.0, deaf=False)
        last = written(to).rpartition("LISTENING")[0].rpartition("LISTENING")[2]
    assert "MICROPHONE" not in last


def lines_view(width: int, **options: object) -> tuple[ConversationView, StringIO]:
    file = StringIO()
    return ConversationView(Console(file=file, width=width, **options)), file  # type: ignore[arg-type]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_where_there_is_no_terminal_lines_are_plain_and_wrapped_to_the_width(width: int, height: int) -> None:
    view, file = lines_view(width)
    show_something(view)
    view.tool(
        4.0, "Compartment syndrome: pain out of proportion, on passive stretch, and a tense limb?", Priority.PROMPT
    )
    text = file.getvalue()
    assert "\x1b" not in text
    assert all(len(line) <= width for line in text.splitlines())
    assert "!! Left hand: color?" in text
    assert "[] Refill over two seconds" in " ".join(text.split())


def test_wrapped_lines_go_on_below_their_words() -> None:
    view, file = lines_view(40)
    view.tool(4.0, "pain out of proportion, on passive stretch, and a tense limb?", Priority.PROMPT)
    first, *rest = file.getvalue().splitlines()
    assert first.startswith("00:04.0       tool pain out of")
    assert rest
    assert all(line.startswith(" " * 19) and line.strip() for line in rest)
