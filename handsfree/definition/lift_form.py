"""The file form of who may lift what: by an override, with a role and a reason."""

from typing import Annotated, Literal

from pydantic import Field

from handsfree.definition.form_base import Identifier, Strict


class Lift(Strict):
    """Who may lift a hold, and why.

    Attributes:
        by: Roles of the procedure that may answer for it.
        reasons: Override reasons that count for it.
    """

    by: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    reasons: Annotated[tuple[Identifier, ...], Field(min_length=1)]


LiftRule = Lift | Literal["never"]
"""Never: another answer, or the end of the visit, is the only way on."""


class LiftRules(Strict):
    """Who may lift the holds of a procedure for which no step and no field says otherwise.

    Attributes:
        red: Holds of red values.
        stop: Holds of values that stop, of answers that differ, and of sizes.
        heat: Holds after heat or pain; the same people may leave a zone open.
        gaps: Who may accept a missing value of a hard step.
        second_person: Override reasons for which another person than the operator answers: that person's code is asked
            for. It is asked for too where the role is another than the declared one (`Procedure.role_from`).
    """

    red: LiftRule | None = None
    stop: LiftRule | None = None
    heat: LiftRule | None = None
    gaps: Lift | None = None
    second_person: tuple[Identifier, ...] = ()
