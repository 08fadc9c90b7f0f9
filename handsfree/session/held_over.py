"""What a session holds over until something comes of it: timers that run, numbers that were refused."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class RunningTimer:
    """A timer that has not run out, or not been told.

    Attributes:
        stage_id: The stage that started it.
        timer_id: Its identifier in the file.
        label: What it is called.
        say: What is said when it has run out.
        due_s: Session time at which it has run out.
    """

    stage_id: str
    timer_id: str
    label: str
    say: str
    due_s: float


@dataclass(frozen=True, slots=True)
class RefusedNumber:
    """A number outside what can be, as it was said last for a field.

    Attributes:
        amount: The number.
        said_s: Session time at which its words began.
    """

    amount: Decimal
    said_s: float
