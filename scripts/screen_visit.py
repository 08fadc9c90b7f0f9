"""A whole scripted visit, typed, on the screen for the room: what a browser is shown at its moments.

Time is counted, so the same moment shows the same seconds at every run. People hold the first light too long, and the
patient says that it is hot: light over time, and a hold.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

from rich.console import Console

from handsfree.application.opening import kept_open, open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.display import ConversationView
from handsfree.display.room.room_page import RoomPage
from handsfree.display.room.room_screen import RoomScreen
from handsfree.display.room.room_server import RoomServer, ScreenPlace, served
from handsfree.model.effects import Priority
from handsfree.model.hypotheses import Hypothesis, heard_text
from handsfree.model.working import Working
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.rehearsal import Rehearsal
from handsfree.simulation.scene import PacedSilence, SceneOutputs, TypedScene
from handsfree.simulation.script import load_script

SCRIPT = Path(__file__).parent / "scenarios" / "ulnar-narrated.yaml"
START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@dataclass
class ShownOutputs(SceneOutputs):
    """A scene whose session is shown to the room as well."""

    room: RoomScreen = field(kw_only=True)
    shown: Callable[[Snapshot], None] = field(kw_only=True)

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """See `SceneOutputs.say`."""
        super().say(text, priority, heard_out)
        self.room.tool(self.clock.monotonic_s(), text, priority)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `SceneOutputs.heard`."""
        super().heard(hypothesis, outcome, probability)
        self.room.heard(self.clock.monotonic_s(), heard_text(hypothesis, outcome), outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `SceneOutputs.show`."""
        super().show(snapshot)
        self.room.show(self.clock.monotonic_s(), snapshot)
        self.shown(snapshot)


@dataclass
class Moments:
    """Which moment of the visit this is; each is told once, in the session's own thread."""

    told: Callable[[str], None]
    clock: ManualClock
    seen: set[str] = field(default_factory=set)
    tick: Callable[[], None] = lambda: None

    def once(self, name: str) -> None:
        """Tell a moment, the first time."""
        if name not in self.seen:
            self.seen.add(name)
            self.told(name)

    def shown(self, snapshot: Snapshot) -> None:
        """A moment may have come with what is shown."""
        if snapshot.hold and "lit" in self.seen and not snapshot.may_be_lit:
            self.once("held")
        if snapshot.mode == "reading_back" and len(snapshot.said_back) > 4:
            self.once("said-back")
        if "Missing" in snapshot.prompt or "missing" in snapshot.prompt:
            self.once("gate")
        if snapshot.step_id == "expose_open" and not snapshot.is_lit and not any(zone.lit_s for zone in snapshot.zones):
            self.once("before-light")
        if snapshot.mode == "closed":
            self.once("closed")

    def passed(self, snapshot: Snapshot | None) -> None:
        """While light is on: at first part of it, at the last zone more than all of it."""
        if snapshot is None or not snapshot.is_lit:
            return
        name, lit_s = ("over", 6.3) if snapshot.step_id == "expose_strap" else ("lit", 3.9)
        if name in self.seen:
            return
        until_s = self.clock.monotonic_s() + lit_s
        while self.clock.monotonic_s() < until_s:
            self.clock.sleep_until(min(until_s, self.clock.monotonic_s() + 0.2))
            self.tick()
        self.once(name)


@contextmanager
def shown_visit(
    folder: Path, told: Callable[[str, RoomScreen], None]
) -> Iterator[tuple[RoomServer, Callable[[], str]]]:
    """A server and what plays the visit on it, to its end.

    Args:
        folder: New folder for the record.
        told: Called at each moment, with what is shown.
    """
    script, clock = load_script(SCRIPT), ManualClock(START)
    bundle = load_bundle(script.procedure)
    room = RoomScreen(clock, "shown-visit")
    moments = Moments(lambda name: told(name, room), clock)
    outputs = ShownOutputs(
        ConversationView(Console(file=StringIO())), clock, PacedSilence(), room=room, shown=moments.shown
    )

    def play() -> str:
        runner, journal = open_session(
            bundle, folder, clock, outputs, practice=True, engine="typed", keep_clips=False, working=Working.NARRATED,
            going_on=True,
        )  # fmt: skip
        moments.tick = runner.tick
        with kept_open(runner, journal):
            scene = TypedScene(runner, outputs, clock)
            scene.on_time = lambda: moments.passed(outputs.snapshot)
            return Rehearsal(script, scene, real_time=True).run().outcome

    page = RoomPage(bundle.procedure.title, bundle.device, "shown-visit")
    with served(RoomServer(room, page, ScreenPlace())) as server:
        yield server, play
