"""What is wrong with a second person's confirmation: who it is must be told, and told apart from the operator."""

from collections.abc import Iterator, Mapping

from handsfree.definition.form import Procedure, Step

At = tuple[str | int, ...]
Fault = tuple[At, str]


def second_person_faults(procedure: Procedure, step: Step, where: At, earlier: Mapping[str, Step]) -> Iterator[Fault]:
    """Everything that is wrong with the second person of a step.

    Args:
        procedure: The procedure.
        step: The step.
        where: Its place in the file.
        earlier: The steps before it, by name.
    """
    second = step.second_person
    if second is None:
        return
    fields = {field.id: field for field in step.fields}
    role, code = fields.get(second.role), fields.get(second.code)
    at = (*where, "second_person")
    if role is None or role.options is None:
        yield (*at, "role"), f"{second.role} is no field of this step with a list of roles"
    elif set(role.options) - set(procedure.roles):
        unknown = ", ".join(sorted(set(role.options) - set(procedure.roles)))
        yield (*at, "role"), f"{unknown} is no role of the procedure (there are: {', '.join(procedure.roles)})"
    if code is None or code.identifier is None or code.identifier.of != "other":
        yield (*at, "code"), f"{second.code} is no code of a person (write identifier: {{of: other}} in that field)"
    name, _, field_id = (procedure.operator_from or "").partition(".")
    operator = earlier.get(name)
    spelled = operator is not None and any(
        field.id == field_id and field.identifier is not None for field in operator.fields
    )
    if operator is None or not spelled or not operator.hard or operator.when is not None:
        yield (
            at,
            "needs operator_from: a code that an earlier hard step asks for, or anybody could be the second person",
        )
