"""Resources of one record: stable addresses, references, the mark of practice, JSON that keeps decimals. Pure."""

import json
import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal

from handsfree.record.contents import Record

Value = str | int | bool | Decimal | Sequence["Value"] | Mapping[str, "Value"]
Resource = dict[str, Value]

ACT_REASON = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
OURS = "urn:handsfree"
UCUM = "http://unitsofmeasure.org"
BODY_SITE = "http://hl7.org/fhir/StructureDefinition/bodySite"
_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, OURS)


class Writer:
    """Resources of one record, with identifiers that depend on nothing else."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.record_id = record.header.record_id
        self.procedure_id = record.header.procedure
        self.entries: list[Value] = []
        self._added: set[str] = set()

    def url(self, name: str) -> str:
        """Stable address of a resource of this record."""
        return f"urn:uuid:{uuid.uuid5(_NAMESPACE, f'{self.record_id}/{name}')}"

    def reference(self, name: str) -> Resource:
        """Reference to a resource of this record."""
        return {"reference": self.url(name)}

    def add(self, name: str, resource: Resource) -> None:
        """Add one resource."""
        url = self.url(name)
        self._added.add(name)
        head: Resource = {"resourceType": resource.pop("resourceType"), "id": url.removeprefix("urn:uuid:")}
        self.entries.append({"fullUrl": url, "resource": head | self.mark() | resource})

    def has(self, name: str) -> bool:
        """Whether a resource was added."""
        return name in self._added

    def record_entry(self, seq: int) -> Resource:
        """Identifier of what a line of the record states."""
        return {"system": f"{OURS}:entry", "value": f"{self.record_id}/{seq}"}

    def mark(self) -> Resource:
        """What shows that a resource is practice; empty where it is none."""
        if not self.record.practice:
            return {}
        test: Resource = {"system": ACT_REASON, "code": "HTEST", "display": "test health data"}
        ours: Resource = {"system": f"{OURS}:tag", "code": "practice", "display": "Practice, no patient"}
        return {"meta": {"security": [test], "tag": [ours]}}


def quantity(number: Decimal, unit: str, comparator: str = "") -> Resource:
    """A FHIR Quantity in UCUM; the decimals of the number are kept."""
    result: Resource = {"value": number}
    if comparator:
        result["comparator"] = comparator
    return result | {"unit": unit or "1", "system": UCUM, "code": unit or "1"}


def last_stamp(record: Record) -> str:
    """Stamp of what was stated or amended last, else of the beginning."""
    stamps = [fact.at for fact in record.facts] + [item.at for item in record.amendments]
    return max(stamps) if stamps else record.header.started


def dump(value: Value, indent: str = "\n") -> str:
    """JSON text in which a Decimal keeps its decimals: in FHIR R4 the precision of a decimal is significant."""
    deeper = indent + "  "
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, Mapping):
        members = [f"{json.dumps(name)}: {dump(item, deeper)}" for name, item in value.items()]
        return "{" + ",".join(deeper + item for item in members) + indent + "}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ",".join(deeper + dump(item, deeper) for item in value) + indent + "]"
    return json.dumps(value, ensure_ascii=False)
