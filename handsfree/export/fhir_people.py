"""The people of a record as FHIR R4: the patient, whoever worked, and whoever answered for something. Pure."""

from handsfree.export.fhir_writer import OURS, Resource, Writer
from handsfree.model.facts import OperatorDeclared
from handsfree.record.code_phrases import CodePhrases


def add_people(writer: Writer) -> None:
    """Add patient and operator, by what the roles of fields in the procedure declared."""
    record = writer.record
    patient: Resource = {"resourceType": "Patient"}
    if record.patient_reference:
        patient["identifier"] = [{"system": f"{OURS}:patient-reference", "value": record.patient_reference}]
    writer.add("patient", patient)
    operator: Resource = {"resourceType": "Practitioner"}
    if record.last(OperatorDeclared) is not None:
        operator["identifier"] = [{"system": f"{OURS}:operator-code", "value": record.operator}]
    writer.add("operator", operator)


def who_answered(writer: Writer, role: str, code: str | None, phrases: CodePhrases) -> Resource:
    """Reference to whoever answered in a role; the operator where no code of another person was given."""
    name = f"who/{role}/{code or ''}"
    if not writer.has(name):
        practitioner = writer.reference("operator")
        if code is not None:
            person = f"person/{code}"
            if not writer.has(person):
                identifier = {"system": f"{OURS}:operator-code", "value": code}
                writer.add(person, {"resourceType": "Practitioner", "identifier": [identifier]})
            practitioner = writer.reference(person)
        coding = {"system": f"{OURS}:role:{writer.procedure_id}", "code": role}
        writer.add(
            name,
            {
                "resourceType": "PractitionerRole",
                "practitioner": practitioner,
                "code": [{"coding": [coding], "text": phrases.role(role)}],
            },
        )
    return writer.reference(name)
