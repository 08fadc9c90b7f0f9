"""A record with every kind of value, and what is looked for in its bundle."""

from record_samples import CLOSING, HEADER, START, affirms, confirmed, refill, started

from handsfree.clock import ManualClock
from handsfree.model.effects import Append
from handsfree.record.amendments import amend
from handsfree.record.journal import Journal
from handsfree.record.verify import verify

ALL_VALUES = [
    confirmed("operator", "role", "surgeon"),
    confirmed("operator_code", "code", "AB12", "spelledtext"),
    confirmed("device_lot", "lot", "A213B1", "spelledtext"),
    confirmed("device_expiry", "expiry", "2027-12-31", "spokendate"),
    confirmed("device_scan", "gtin", "06291041500213", "spelledtext"),
    confirmed("device_scan", "serial", "SN123", "spelledtext"),
    confirmed("circumference", "first", "17.5", "exact", unit="cm", decimals=2, timing="baseline"),
    refill("1", "left", "baseline"),
    refill("<3", "right", "baseline", type="beyond", comparator="<", decimals=None),
    refill("2.5", "left", "after", **{"class": "red", "class_reason": "refill rose by 1.5"}),
    confirmed("pain_after", "rest", "3", "exact", unit="{score}", decimals=0, timing="after"),
    confirmed("nv_after", "pressure", ">35", "beyond", unit="mm[Hg]", comparator=">"),
    confirmed("nv_after", "angle", "50-60", "between", unit="deg"),
    confirmed("nv_after", "bend", "-10--5", "between", unit="deg"),
    confirmed("nv_after", "pulse", "not-performed", "absent", side="left"),
    confirmed("nv_after", "sensation", "=weak", side="left", timing="after"),
    Append("zone_totalled", {"zone": "fracture_side", "side": "left", "lit_s": 6.5, "dose_j_cm2": "0.325", "spots": 1}),
    Append("zone_totalled", {"zone": "wrist_part", "side": "left", "lit_s": "5.0", "reached": True}),
    confirmed("order", "image", "reviewed", phase="before"),
    Append("step_confirmed", {"stage": "padding", "step": "padding"}),
    Append("item_taught", {"stage": "teach", "item": "dry", "said": "Keep it dry.", "teach_back": True}),
    Append("latch_set", {"latch": "red", "stage": "nv_after", "reason": "refill rose", "action": "stop"}),
    Append("note_taken", {"step": "nv_after", "text": 'padding checked, "no gap"', "verified": False}),
]


def everything(folder, **header):
    clock = ManualClock(START)
    clock.sleep_until(600)
    versions = {"handsfree": "0.1.0", "device example-ulnar-sleeve": "0.1.0", "light example-blue-light": "0.2.0"}
    versions |= {"procedure ulnar-splint-fitting": "0.1.0", "recogniser": "neural", "wording": "expert"}
    with Journal.create(folder, HEADER | {"versions": versions} | header, clock=clock) as journal:
        journal.append(started(), [Append("session_started", {})])
        for number, fact in enumerate(ALL_VALUES):
            journal.append(affirms(10.0 + number), [fact])
        again = refill("1.5", "left", "baseline", old_value="1", reason="corrected by voice")
        journal.append(affirms(90.0), [Append("reading_amended", again.data)])
        zones = [fact.data for fact in ALL_VALUES if fact.kind == "zone_totalled"]
        journal.append(affirms(99.0), [Append("session_closed", CLOSING.data | {"zones": zones})])
    record = verify(folder).record
    entry = next(item.fact.seq for item in record.readings if item.data["field"] == "rest")
    amend(folder, entry, {"value": "4"}, by="surgeon", reason="misheard", clock=clock)
    return folder


def resources(bundle, kind):
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]


def observation(bundle, code, index=0):
    found = [
        item
        for item in resources(bundle, "Observation")
        if any(coding["code"] == code for coding in item["code"]["coding"])
    ]
    return found[index]
