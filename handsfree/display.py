"""What a person sees: the conversation as it goes, one line each, readable with and without colour."""

from rich.console import Console
from rich.text import Text

from handsfree.model.effects import Earcon, Priority

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

    def _line(self, at_s: float, who: str, text: str, style: str = "") -> None:
        minutes, seconds = divmod(max(at_s, 0.0), 60)
        line = Text(f"{int(minutes):02d}:{seconds:04.1f} ", style="dim")
        line.append(f"{who:>10} ", style="bold")
        line.append(text, style=style)
        self._console.print(line, soft_wrap=False, highlight=False)

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
