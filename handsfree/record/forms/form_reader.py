"""The lines of one record, read as what they state: today's form as it stands, an older one through its mapping."""

from collections.abc import Mapping

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.fact_base import KeptValue
from handsfree.model.facts import AnyFact, StatedReading
from handsfree.record.codec import decode_fact
from handsfree.record.forms.form_1 import FormOneReader
from handsfree.record.forms.form_1_lines import own_line_of
from handsfree.record.header import FORM
from handsfree.record.own_lines import (
    FORM_RAISED,
    HEADER,
    AmendedLine,
    EventLine,
    OwnContent,
    own_form,
)
from handsfree.record.record_line import RecordLine

READ_FORMS = (1, FORM)
"""Forms that this program reads."""


class NewerFormError(RecordError):
    """A record is of a form that this program does not know."""


class FormReader:
    """Reads the lines of one record in order. The form is that of the header until a line raises it.

    Attributes:
        form: Of the lines to come; 0 before the header.
        present_from: Sequence number of the first line of the form that this program writes, or None.
    """

    def __init__(self) -> None:
        self.form = 0
        self.present_from: int | None = None
        self._form_1 = FormOneReader()
        self._values: dict[int, KeptValue] = {}

    def own(self, line: RecordLine) -> OwnContent:
        """What a line of the journal's own states.

        Raises:
            NewerFormError: From here on the record is of a form that this program does not know.
            RecordError: It is not exactly such a line of its form.
        """
        data = {name: value for name, value in line.data.items() if name != "sum"}
        if line.kind == HEADER:
            self._go_over(_form_in(data), line.seq)
        if line.kind == FORM_RAISED:
            self._raise(_form_in(data), line.seq)
        content: OwnContent = own_form(line.kind).decode(data) if self.form == FORM else self._old(line.kind, data)
        if isinstance(content, AmendedLine) and content.now.value is not None:
            self._values[content.entry] = content.now.value
        return content

    def facts(self, line: RecordLine) -> tuple[AnyFact, ...]:
        """What a line of a session states: one fact; of an older form also what follows from it there.

        Raises:
            RecordError: It is not exactly a fact of its form.
        """
        stated = (decode_fact(line.kind, line.data),) if self.form == FORM else self._form_1.facts(line.kind, line.data)
        if isinstance(stated[0], StatedReading):
            self._values[line.seq] = stated[0].value
        return stated

    def _old(self, kind: str, data: Mapping[str, Json]) -> OwnContent:
        content = own_line_of(kind, data, self._values.get)
        if isinstance(content, EventLine):
            self._form_1.take_event(content.event)
        return content

    def _raise(self, form: int, seq: int) -> None:
        if form <= self.form:
            raise RecordError(f"raises form {self.form} to form {form}")
        self._go_over(form, seq)

    def _go_over(self, form: int, seq: int) -> None:
        if form > FORM:
            raise NewerFormError(
                f"is of form {form}, and this program reads forms up to {FORM}; use the program that wrote it"
            )
        if form not in READ_FORMS:
            raise RecordError(f"names the form {form}, which there never was")
        self.form = form
        if form == FORM:
            self.present_from = seq


def _form_in(data: Mapping[str, Json]) -> int:
    form = data.get("form")
    if type(form) is not int:
        raise RecordError("does not name the form of the record")
    return form
