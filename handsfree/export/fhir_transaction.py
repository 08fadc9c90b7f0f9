"""A FHIR R4 (4.0.1) bundle as a transaction that may be sent again: conditional creates, updates where a value changed.

Sources, of FHIR R4: http.html#transaction (3.1.0.11), #trules (processing rules), #ccreate (conditional create),
#cond-update (conditional update); search.html#escaping; bundle.html (constraints bdl-3, bdl-5, bdl-7, bdl-8).
What a resource is found by is its identifier; a Provenance has none, so it is found by a tag of its content. Pure.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from handsfree.export.fhir_writer import OURS, dump

URI_SYSTEM = "urn:ietf:rfc:3986"
"""The system of identifiers that are URIs (FHIR R4, datatypes.html#Identifier)."""
PATIENT_SYSTEM = f"{OURS}:patient-reference"
TAG_SYSTEM = f"{OURS}:resource"
_NEVER_CHANGED = frozenset({"BodyStructure", "CodeSystem", "Patient", "Practitioner", "Provenance"})
"""What no later line of a record changes: another patient, side or operator is another resource."""
_WITHOUT_IDENTIFIER = frozenset({"Provenance"})
_ESCAPED = str.maketrans({sign: f"\\{sign}" for sign in "\\$,|"})
Json = dict[str, Any]


def to_transaction(bundle: str, *, amended: bool, patient_system: str = PATIENT_SYSTEM) -> str:
    """The transaction that puts what a bundle holds on a server, once however often it is sent.

    Args:
        bundle: JSON text of `to_fhir`.
        amended: Whether lines were added after the end: what they may change is updated where it is there.
        patient_system: System of the patient's identifier at the site, so that its own Patient is found.

    Returns:
        JSON text; decimals keep their digits.
    """
    read = json.loads(bundle, parse_float=Decimal)
    entries = [_entry(one["fullUrl"], one["resource"], amended, patient_system) for one in read["entry"]]
    meta = {"meta": read["meta"]} if "meta" in read else {}
    return dump({"resourceType": "Bundle", **meta, "type": "transaction", "entry": entries}) + "\n"


def _entry(url: str, resource: Json, amended: bool, patient_system: str) -> Json:
    """One entry. The server gives the identifier of a resource that it creates, so none is sent."""
    kind = str(resource["resourceType"])
    sent = {name: value for name, value in resource.items() if name != "id"}
    if kind in _WITHOUT_IDENTIFIER:
        tag = {"system": TAG_SYSTEM, "code": hashlib.sha256(dump(sent).encode()).hexdigest()}
        meta = dict(sent.get("meta", {}))
        sent = {"resourceType": kind, "meta": meta | {"tag": [*meta.get("tag", []), tag]}} | {
            name: value for name, value in sent.items() if name not in ("resourceType", "meta")
        }
        sought = f"_tag={_token(tag['system'], tag['code'])}"
    elif kind == "CodeSystem":  # the same for every record
        sought = f"url={quote(str(sent['url']), safe='')}"
    else:
        identifier = _identifier(url, sent.get("identifier", []), patient_system)
        sent = {"resourceType": kind} | {name: value for name, value in sent.items() if name == "meta"} | sent
        sent["identifier"] = identifier
        sought = f"identifier={_token(identifier[0]['system'], identifier[0]['value'])}"
    request = {"method": "POST", "url": kind, "ifNoneExist": sought}
    if amended and kind not in _NEVER_CHANGED:
        request = {"method": "PUT", "url": f"{kind}?{sought}"}
    return {"fullUrl": url, "resource": sent, "request": request}


def _identifier(url: str, known: Sequence[Mapping[str, str]], patient_system: str) -> list[Json]:
    """Its own identifier, else the address that the export always gives it."""
    if not known:
        return [{"system": URI_SYSTEM, "value": url}]
    return [{**one, "system": patient_system if one["system"] == PATIENT_SYSTEM else one["system"]} for one in known]


def _token(system: str, value: str) -> str:
    """A search parameter of the type token, escaped as the specification says."""
    return f"{quote(system, safe='')}%7C{quote(value.translate(_ESCAPED), safe='')}"
