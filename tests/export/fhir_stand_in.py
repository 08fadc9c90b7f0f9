"""A stand-in for a FHIR R4 server, strict: it takes transactions alone and holds each against the specification.

It is no server of a hospital: it keeps resources in memory and knows the searches that conditions need (identifier,
_tag). What it refuses, it refuses whole, with the section of FHIR R4 (4.0.1) that says so.
"""

import copy
import json
import threading
from decimal import Decimal
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import import_module
from urllib.parse import parse_qsl

STAMP = "2026-11-29T12:00:00Z"


class RefusedError(Exception):
    """The specification does not permit it."""

    def __init__(self, status, section, what):
        super().__init__(f"{section}: {what}")
        self.status = status


def need(good, section, what, status=400):
    if not good:
        raise RefusedError(status, section, what)


def tokens(resource, parameter):
    """What a search by a token looks at (search.html#token), or by an address (search.html#uri)."""
    if parameter == "url":
        return [("", resource.get("url"))]
    found = resource.get("identifier", []) if parameter == "identifier" else resource.get("meta", {}).get("tag", [])
    return [(one.get("system", ""), one.get("value", one.get("code"))) for one in found]


def parsed(condition, section):
    """Parameter, system and value of a condition."""
    need("?" not in condition, section, "the condition holds only the part after the question mark")
    pairs = parse_qsl(condition, strict_parsing=True)
    need(len(pairs) == 1, section, "one criterion")
    parameter, value = pairs[0]
    need(parameter in ("identifier", "_tag", "url"), section, f"{parameter} is no search of this stand-in")
    if parameter == "url":
        return parameter, "", value
    system, bar, code = value.partition("|")
    need(bar and code, "search.html#token", "system|code")
    for sign in ("\\$", "\\,", "\\|", "\\\\"):
        code = code.replace(sign, sign[1])
    return parameter, system, code


def references(value):
    """Every literal reference, with what holds it."""
    if isinstance(value, dict):
        if isinstance(value.get("reference"), str):
            yield value
        for item in value.values():
            yield from references(item)
    elif isinstance(value, list):
        for item in value:
            yield from references(item)


class StandIn:
    """The server: `resources` by type and identifier, `requests` as they came."""

    def __init__(self, *, token=None):
        self.token = token
        self.resources = {}
        self.requests = []
        self.answer_otherwise = None
        stand_in = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self):
                stand_in.handle(self)

            def log_message(self, *_):
                """Say nothing."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.base = f"http://127.0.0.1:{self._server.server_address[1]}/fhir"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def close(self):
        self._server.shutdown()
        self._server.server_close()

    def all(self, kind):
        return list(self.resources.get(kind, {}).values())

    def handle(self, handler):
        body = handler.rfile.read(int(handler.headers["Content-Length"]))
        self.requests.append((handler.path, dict(handler.headers), body))
        headers = {"Content-Type": "application/fhir+json; charset=utf-8"}
        if self.answer_otherwise is not None:
            status, more, said = self.answer_otherwise
            headers |= more
        else:
            try:
                status, said = 200, json.dumps(self.taken(handler.path, handler.headers, body), default=str).encode()
            except RefusedError as refused:
                issue = {"severity": "error", "code": "processing", "diagnostics": str(refused)}
                status = refused.status
                said = json.dumps({"resourceType": "OperationOutcome", "issue": [issue]}).encode()
        handler.send_response(status)
        for name, value in (headers | {"Content-Length": str(len(said))}).items():
            handler.send_header(name, value)
        handler.end_headers()
        handler.wfile.write(said)

    def taken(self, path, headers, body):
        """Carry a transaction out, or refuse it whole."""
        if self.token is not None:
            need(headers.get("Authorization") == f"Bearer {self.token}", "security.html", "who are you?", 401)
        need(path == "/fhir", "http.html#transaction", "a transaction is posted to the base address")
        mime = headers.get("Content-Type", "").partition(";")[0]
        need(mime == "application/fhir+json", "http.html#mime-type", f"{mime} is not application/fhir+json", 415)
        bundle = json.loads(body, parse_float=Decimal)
        need(bundle.get("resourceType") == "Bundle", "http.html#transaction", "a Bundle is posted")
        need(bundle.get("type") == "transaction", "http.html#transaction", "its type is transaction")
        need("total" not in bundle, "bundle.html bdl-1", "total is for searches")
        entries = bundle["entry"]
        urls = [entry.get("fullUrl") for entry in entries]
        need(len(urls) == len(set(urls)), "bundle.html bdl-7", "fullUrl is unique")
        plan = [self._planned(entry) for entry in entries]
        changed = [place for place in plan if place[1] is not None or place[0] == "PUT"]
        found = [id for *_, id in changed if id is not None]
        need(len(found) == len(set(found)), "http.html#trules", "the identities of two entries overlap")
        return self._carried_out(entries, plan)

    def _planned(self, entry):
        """Method, kind and the resource that a condition finds."""
        need("request" in entry, "bundle.html bdl-3", "every entry of a transaction has a request")
        need("response" not in entry, "bundle.html bdl-4", "no entry of a request has a response")
        need("search" not in entry, "bundle.html bdl-2", "search is for search results")
        url = entry.get("fullUrl", "")
        need(url.startswith("urn:uuid:"), "bundle.html#bundle-unique", "what has no address yet has a urn:uuid")
        need("/_history/" not in url, "bundle.html bdl-8", "fullUrl names no version")
        resource, request = entry["resource"], entry["request"]
        kind = resource["resourceType"]
        need("id" not in resource, "http.html#create", "the server gives the id of what is created")
        import_module(f"fhir.resources.R4B.{kind.lower()}").__dict__[kind].model_validate_json(
            json.dumps(resource, default=float)
        )
        method = request["method"]
        if method == "POST":
            need(request["url"] == kind, "http.html#create", f"created at {kind}, not at {request['url']}")
            need("ifNoneExist" in request, "this stand-in", "what may be sent again is created on a condition")
            matches = self._matches(kind, request["ifNoneExist"], "http.html#ccreate")
            need(len(matches) <= 1, "http.html#ccreate", f"{len(matches)} {kind} match {request['ifNoneExist']}", 412)
        else:
            need(method == "PUT", "http.html#transaction", f"{method} is none of this stand-in")
            asked, mark, condition = request["url"].partition("?")
            need(asked == kind and mark, "http.html#cond-update", "Type?criteria")
            need("ifNoneExist" not in request, "bundle.html", "ifNoneExist is for creates")
            matches = self._matches(kind, condition, "http.html#cond-update")
            need(len(matches) <= 1, "http.html#cond-update", f"{len(matches)} {kind} match {condition}", 412)
        return method, kind, matches[0] if matches else None

    def _matches(self, kind, condition, section):
        parameter, system, code = parsed(condition, section)
        stored = self.resources.get(kind, {})
        return [id for id, one in stored.items() if (system, code) in tokens(one, parameter)]

    def _carried_out(self, entries, plan):
        """All creates before all updates (http.html#trules), references put right, and only then kept."""
        kept = copy.deepcopy(self.resources)
        places, made = {}, []
        number = sum(len(of_kind) for of_kind in kept.values())
        for entry, (method, kind, found) in zip(entries, plan, strict=True):
            number += found is None
            places[entry["fullUrl"]] = f"{kind}/{found or f'{kind[:3].lower()}-{number}'}"
            made.append((method, found is None))
        answers = []
        for entry, (method, kind, found) in zip(entries, plan, strict=True):
            resource = copy.deepcopy(entry["resource"])
            for one in references(resource):
                if one["reference"].startswith("urn:uuid:"):
                    need(one["reference"] in places, "http.html#trules", f"{one['reference']} leads nowhere")
                    one["reference"] = places[one["reference"]]
            place = places[entry["fullUrl"]]
            if found is None or method == "PUT":
                id = place.partition("/")[2]
                kept.setdefault(kind, {})[id] = {"resourceType": kind, "id": id, **resource}
            status = "201 Created" if found is None else "200 OK"
            answers.append({"response": {"status": status, "location": f"{place}/_history/1", "lastModified": STAMP}})
        self.resources = kept
        return {"resourceType": "Bundle", "type": "transaction-response", "entry": answers}
