"""The global rating form: seven items from 1 to 5 and one judgement. Pure.

*Source*: OSATS, Martin and others, Br J Surg 1997;84:273: seven items, 1 to 5, anchors at 1, 3 and 5; 7 to 35 in all.
The wording of the anchors is this project's own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files

from handsfree.errors import RecordError, UsageError
from handsfree.model.readings import Absent, value_text
from handsfree.record.contents import Record

FORM = str(files("handsfree").joinpath("practice", "rating.yaml"))
"""The form as a procedure file."""
FORM_ID = "global-rating"
ITEMS = (
    "respect_for_tissue",
    "time_and_motion",
    "instrument_handling",
    "knowledge_of_instruments",
    "use_of_assistants",
    "flow_and_planning",
    "knowledge_of_procedure",
)
"""Items in the order of the form."""
MARKS = (1, 2, 3, 4, 5)


@dataclass(frozen=True, slots=True)
class Marks:
    """A filled form.

    Attributes:
        items: Item to mark, all seven.
        passed: The rater's judgement of the session as a whole.

    Raises:
        UsageError: An item is missing or unknown, or a mark is not 1 … 5.
    """

    items: Mapping[str, int]
    passed: bool

    def __post_init__(self) -> None:
        missing = [item for item in ITEMS if item not in self.items]
        if missing or len(self.items) != len(ITEMS):
            raise UsageError(f"a rating has these items: {', '.join(ITEMS)}; missing: {', '.join(missing) or 'none'}")
        for item, mark in self.items.items():
            if mark not in MARKS:
                raise UsageError(f"{item} is {mark}; a whole number from 1 to 5 would be right")

    @property
    def total(self) -> int:
        """Sum of the marks, 7 … 35."""
        return sum(self.items.values())


def marks_of(listed: Sequence[int], *, passed: bool) -> Marks:
    """A form from marks in the order of `ITEMS`.

    Raises:
        UsageError: There are not seven, or one is not 1 … 5.
    """
    if len(listed) != len(ITEMS):
        raise UsageError(f"a rating has seven marks, in this order: {', '.join(ITEMS)}; there are {len(listed)}")
    return Marks(dict(zip(ITEMS, listed, strict=True)), passed)


def marks_in(record: Record) -> Marks:
    """A form that was said or typed through the form's own procedure.

    Raises:
        RecordError: It is no such record, or was not filled to its end.
    """
    if record.header.procedure != FORM_ID or record.closing is None:
        raise RecordError("this is no finished rating; fill the form to its end")
    said = {one.stands.step: one.stands.value for one in record.readings if one.superseded_by is None}
    missing = [item for item in (*ITEMS, "overall") if isinstance(said.get(item), Absent | None)]
    if missing:
        raise RecordError(f"the rating has no mark for {', '.join(missing)}")
    marks = {item: int(value_text(said[item])) for item in ITEMS}
    return Marks(marks, value_text(said["overall"]) == "passed")
