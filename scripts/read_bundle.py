#!/usr/bin/env python3
"""Read back out of a FHIR bundle, without the record, what stopped a visit, who answered for what, and the light.

    python scripts/read_bundle.py BUNDLE.json

Prints one JSON object. It uses nothing of handsfree: it shows what whoever takes a bundle over can know from it alone.
"""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

OURS = "urn:handsfree"
Resource = dict[str, Any]


def resources(bundle: Resource, kind: str) -> Iterator[Resource]:
    """The resources of a kind, in order."""
    for entry in bundle["entry"]:
        if entry["resource"]["resourceType"] == kind:
            yield entry["resource"]


def code_of(concept: Resource, system: str) -> str:
    """The code of a concept in a system; "" where it has none."""
    return next((one["code"] for one in concept.get("coding", ()) if one["system"] == system), "")


def said(resource: Resource, name: str) -> Any:  # noqa: ANN401 - whatever the extension holds
    """Value of an extension of ours, or None."""
    for one in resource.get("extension", ()):
        if one["url"] == f"{OURS}:{name}":
            return next(value for key, value in one.items() if key.startswith("value"))
    return None


def every(resource: Resource, name: str) -> list[Any]:
    """Values of all extensions of ours of a name."""
    found = (one for one in resource.get("extension", ()) if one["url"] == f"{OURS}:{name}")
    return [next(value for key, value in one.items() if key.startswith("value")) for one in found]


def line_of(resource: Resource) -> int:
    """Line of the record that a resource is from."""
    return int(resource["identifier"][0]["value"].rpartition("/")[2])


def read(bundle: Resource) -> Resource:
    """Everything of a visit that somebody who was not there must know."""
    known = {entry["fullUrl"]: entry["resource"] for entry in bundle["entry"]}
    (procedure,) = resources(bundle, "Procedure")
    observations = list(resources(bundle, "Observation"))

    def answered(mitigation: Resource) -> Resource:
        role = known[mitigation["author"]["reference"]]
        person = known[role["practitioner"]["reference"]]
        action = mitigation["action"]["coding"]
        return {
            "entry": said(mitigation, "entry"),
            "role": role["code"][0]["coding"][0]["code"],
            "code": next((one["value"] for one in person.get("identifier", ())), None),
            "reason": next(one["code"] for one in action if one["system"].startswith(f"{OURS}:override-reason:")),
            "why": mitigation["action"]["text"],
        }

    stops, overrides = [], []
    for issue in resources(bundle, "DetectedIssue"):
        code = code_of(issue["code"], f"{OURS}:event")
        by_people = [
            one for one in issue.get("mitigation", ()) if code_of(one["action"], f"{OURS}:mitigation") == "override"
        ]
        overrides += [answered(one) | {"of": "hold" if said(issue, "hold") else code} for one in by_people]
        if code in {"stop-word", "cry", "light-cut-by-break", "finding"}:
            run = said(issue, "light-run")
            stops.append(
                {
                    "entry": line_of(issue),
                    "kind": code,
                    "words": said(issue, "words") or "",
                    "zone": said(issue, "zone") or "",
                    "while_lit": said(issue, "while-lit"),
                    "severity": issue["severity"],
                    "hold": said(issue, "hold"),
                    "why": [one["code"][0]["text"] for one in issue.get("evidence", ())],
                    "after": said(issue, "after"),
                    "lifted": bool(issue.get("mitigation")),
                    "light_run": line_of(known[run["reference"]]) if run else None,
                    "told": issue["detail"],
                }
            )
    zones = {}
    runs = []
    for one in observations:
        event = code_of(one["code"], f"{OURS}:event")
        parts = {part["code"]["coding"][0]["code"]: part for part in one.get("component", ())}
        if event == "light-zone":
            zone = one["code"]["coding"][0]["code"].removeprefix("light.")
            figures = {name: parts[name]["valueQuantity"]["value"] for name in ("lit", "target", "dose", "possible")}
            zones[zone] = figures | {"standing": code_of(one["interpretation"][0], f"{OURS}:light")}
        elif event == "light-run":
            runs.append(
                {
                    "entry": line_of(one),
                    "zone": said(one, "zone"),
                    "seconds": one["valueQuantity"]["value"],
                    "end": parts["end"]["valueCodeableConcept"]["coding"][0]["code"],
                    "early": parts["early"]["valueBoolean"],
                    "off_said": parts["off-said"]["valueBoolean"],
                }
            )
    by_event = {
        name: [one for one in observations if code_of(one["code"], f"{OURS}:event") == name]
        for name in ("note", "break", "wait", "device-lost", "stray-light")
    }
    readings = [one for one in observations if one.get("method")]
    return {
        "practice": any(tag["code"] == "practice" for tag in procedure.get("meta", {}).get("tag", ())),
        "status": procedure["status"],
        "outcome": code_of(procedure["outcome"], f"{OURS}:outcome"),
        "overridden": next((one["valueUnsignedInt"] for one in procedure.get("modifierExtension", ())), 0),
        "attestation": said(procedure, "attestation"),
        "attested_by": [
            agent["who"]["display"]
            for one in resources(bundle, "Provenance")
            for agent in one["agent"]
            if code_of(agent.get("type", {}), "http://terminology.hl7.org/CodeSystem/provenance-participant-type")
        ],
        "not_approved": every(procedure, "not-approved"),
        "approval": said(procedure, "approval"),
        "open": [one["text"] for one in every(procedure, "left-open")],
        "stops": stops,
        "overrides": sorted(overrides, key=lambda one: one["entry"]),
        "zones": zones,
        "runs": runs,
        "stray_light": [one.get("valueQuantity", {}).get("value") for one in by_event["stray-light"]],
        "breaks": [one["valueQuantity"]["value"] for one in by_event["break"]],
        "waits": [one["valueQuantity"]["value"] for one in by_event["wait"]],
        "lost": [one["valueString"] for one in by_event["device-lost"]],
        "notes": [{"text": one["valueString"], "status": one["status"]} for one in by_event["note"]],
        "red": [
            line_of(one)
            for one in readings
            if any(
                coding["code"] == "red"
                for flag in one.get("interpretation", ())
                for coding in flag["coding"]
                if coding["system"] in {f"{OURS}:class", f"{OURS}:class-once-amended"}
            )
        ],
        "unjudged": [
            line_of(one)
            for one in readings
            if any(
                code_of(flag, f"{OURS}:class-once-amended") == "not-judged" for flag in one.get("interpretation", ())
            )
        ],
        "amended": [line_of(one) for one in readings if one["status"] == "amended"],
        "typed": [line_of(one) for one in readings if one["method"]["coding"][0]["code"] == "typed"],
        "scored": [line_of(one) for one in readings if said(one, "score") is not None],
        "narrative": procedure["text"]["div"],
    }


def main() -> None:
    """Read a bundle and print what is in it."""
    if len(sys.argv) != 2:
        sys.exit("give one file: the bundle of `handsfree export RECORD --to fhir`")
    bundle = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    sys.stdout.write(json.dumps(read(bundle), indent=2, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
