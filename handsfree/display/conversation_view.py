"""What a person sees: the conversation as it goes, one line each, readable with and without colour."""

from rich.console import Console
from rich.text import Text

from handsfree.model.effects import Earcon, Priority
from handsfree.session.snapshot import Snapshot

_EARCON_WORDS = {
    Earcon.HEARD: "heard",
    Earcon.NOT_UNDERSTOOD: "not understood",
    Earcon.REFUSED: "refused",
    Earcon.RECORDED: "recorded",
    Earcon.ATTENTION: "attention",
    Earcon.DEVICE_LOST: "device lost",
    Earcon.TICK: "tick",
}


class ConversationView:
    """Prints a conversation. Meaning is in words and marks; colour only adds to them.

    Args:
        console: Where to print; its width and colour ability are used as they are.
    """

    def __init__(self, console: Console) -> None:
        self._console = console
        self._step_id = ""
        self._hold: str | None = None

    def _line(self, at_s: float, who: str, text: str, style: str = "") -> None:
        minutes, seconds = divmod(max(at_s, 0.0), 60)
        head = Text(f"{int(minutes):02d}:{seconds:04.1f} ", style="dim")
        head.append(f"{who:>10} ", style="bold")
        # What is wrapped goes on below its words, so that the column of times stays a column.
        parts = Text(text, style=style).wrap(self._console, max(20, self._console.width - len(head)))
        for part in parts:
            part.rstrip()
            self._console.print(head + part, soft_wrap=True, highlight=False)
            head = Text(" " * len(head))

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        """A prompt of the tool, at session time `at_s` seconds."""
        urgent = priority >= Priority.ATTENTION
        self._line(at_s, "tool", ("!! " if urgent else "") + text, "bold red" if urgent else "cyan")

    def person(self, at_s: float, who: str, text: str, note: str = "") -> None:
        """What a person said."""
        self._line(at_s, who, text + (f"   ({note})" if note else ""), "green")

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        """What was heard and what became of it."""
        mark = {"accepted": "=", "doubted": "?", "not taken": "x"}.get(outcome, " ")
        self._line(at_s, "heard", f"{mark} {text or '(nothing usable)'}   [{outcome}, {probability:.2f}]", "dim")

    def sound(self, at_s: float, earcon: Earcon) -> None:
        """A short sound."""
        if earcon is not Earcon.TICK:
            self._line(at_s, "sound", f"* {_EARCON_WORDS[earcon]}", "dim")

    def notice(self, at_s: float, text: str) -> None:
        """Something about the devices or the room."""
        self._line(at_s, "notice", f"! {text}", "bold")

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        """Where the procedure stands: a line when the step changes or something holds it."""
        if snapshot.step_id != self._step_id:
            self._step_id = snapshot.step_id
            practice = ", PRACTICE" if snapshot.practice else ""
            done = f"{snapshot.done} of {snapshot.total} done{practice}"
            self._line(at_s, "step", f"# {snapshot.step_id.replace('_', ' ')} ({snapshot.phase}, {done})", "dim")
        if snapshot.hold != self._hold:
            self._hold = snapshot.hold
            self._line(at_s, "held" if snapshot.hold else "free", f"[] {snapshot.hold or 'no longer held'}", "bold red")

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        """Lines show no level."""
