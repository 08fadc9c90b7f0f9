"""The light of a visit in lines: each zone's sum, each run as it happened, and what does not go together."""

from collections.abc import Iterator

from handsfree.model.effects import Json
from handsfree.record.contents import Fact, Record
from handsfree.record.entries import light_cut

_ENDS = {
    "off_said": "light off was said",
    "beep_heard": "the lamp's beep",
    "fell_silent": "the lamp's beeps ceased",
    "off_missed": "light off was not heard",
    "interrupted": "interrupted, counted to the last sign of life",
}
_DISAGREEMENTS = {
    "beeps_missing": "fewer beeps than the spoken seconds ask for",
    "beep_after_off": "it beeped after light off was said",
    "words_apart": "light off was said at another time than the lamp went off",
}
_FLAGS = {"under_target": "short of its target", "over_target": "well over its target"}
_LIGHT_KINDS = frozenset(
    {
        "light_turned_off",
        "light_off_said_after_sound",
        "strap_removed",
        "strap_replaced",
        "warmth_answered",
        "pain_scored",
        "late_heat_asked",
    }
)


def light_lines(record: Record) -> Iterator[str]:
    """Zones with their sums, then runs, strap and warmth in the order in which they happened."""
    for zone in record.zones:
        yield _zone_line(record, zone)
    names = _names(record)
    told_s = {line: event.at_s for line, event in zip(record.event_lines, record.events, strict=True)}
    for fact in record.facts:
        if fact.kind in _LIGHT_KINDS:
            yield f"{_clock(fact, told_s)}  {_moment(fact, names)}"
    yield from light_cut(record)


def light_attention(record: Record) -> list[str]:
    """What of the light is to be looked at first."""
    names = _names(record)
    lines = list(light_cut(record))
    lines += [
        f"lamp and words disagree, {_name(fact.data.get('zone'), names)}: "
        f"{_DISAGREEMENTS.get(str(fact.data.get('what')), fact.data.get('what'))}; neither was taken for the truth"
        for fact in record.of_kind("lamp_disagreed")
    ]
    lines += [
        f"pain score {fact.data.get('score')} of 10, {_where(fact, names)}"
        for fact in record.of_kind("pain_scored")
        if fact.data.get("score") != 0
    ]
    if any(fact.data.get("heat_reported") is False for fact in record.of_kind("light_turned_on")):
        lines.append("the patient could not report heat: warmth was felt by hand")
    runs = record.of_kind("light_turned_off")
    if runs and all(fact.data.get("beeps") == "not_heard" for fact in runs):
        lines.append("the lamp's beep was never heard: the spoken seconds stand alone")
    return lines


def _zone_line(record: Record, zone: Fact) -> str:
    data = zone.data
    lit_s, target_s, possible_s = (_number(data.get(name)) for name in ("lit_s", "target_s", "possible_s"))
    runs = [fact for fact in record.of_kind("light_turned_off") if fact.data.get("zone") == data.get("zone")]
    parts = [f"{lit_s:.1f} of {target_s:.1f} s", f"{_number(data.get('dose_j_cm2')):.2f} J/cm2"]
    if len(runs) > 1:
        # The last run ends the work on a zone; only what broke off an earlier one is a reason to go on with it.
        stops = sorted({str(fact.data["reason"]) for fact in runs[:-1] if fact.data.get("reason")})
        parts.append(f"{len(runs)} runs" + (f", gone on with after {', '.join(stops)}" if stops else ""))
    if lit_s < target_s:
        parts.append(f"short by {target_s - lit_s:.1f} s")
    if possible_s > lit_s + 0.05:
        parts.append(f"lit for up to {possible_s:.1f} s")
    if data.get("strap_shadowed") is True:
        parts.append("in the strap's shadow, counted from strap off")
    return f"{_name(data.get('zone'), _names(record))}: {', '.join(parts)}"


def _moment(fact: Fact, names: dict[str, str]) -> str:
    data = fact.data
    match fact.kind:
        case "light_turned_off":
            end = f"the word {data.get('reason')}" if data.get("reason") else _ENDS.get(str(data.get("end")), "")
            flags = data.get("flags")
            told = [_FLAGS[flag] for flag in flags if flag in _FLAGS] if isinstance(flags, list) else []
            return (
                f"run on {_where(fact, names)}: {_number(data.get('credited_s')):.1f} s, "
                f"{_number(data.get('dose_j_cm2')):.2f} J/cm2, ended by {end}"
                + (f"; the zone is {' and '.join(told)}" if told else "")
            )
        case "light_off_said_after_sound":
            return f"light off was said after it: {'goes with the sound' if data.get('agrees') else 'at another time'}"
        case "strap_removed" | "strap_replaced":
            return "strap off" if fact.kind == "strap_removed" else "strap on"
        case "pain_scored":
            return f"pain score {data.get('score')} of 10, {_where(fact, names)}"
        case "late_heat_asked":
            return f"late question about heat{', later than planned' if data.get('overdue') else ''}"
        case _:
            return f"warmth, {_where(fact, names)}: {data.get('answer')}"


def _where(fact: Fact, names: dict[str, str]) -> str:
    return "late question" if fact.data.get("late") else _name(fact.data.get("zone"), names)


def _names(record: Record) -> dict[str, str]:
    """Spoken names of the zones, where the closing statement tells them."""
    return {str(zone.data.get("zone")): str(zone.data["label"]) for zone in record.zones if "label" in zone.data}


def _name(zone: Json, names: dict[str, str]) -> str:
    return names.get(str(zone), str(zone))


def _clock(fact: Fact, told_s: dict[int, float]) -> str:
    """When it was said, else when the session was told of it: minutes and seconds from the start."""
    spoken_s = fact.data.get("spoken_from_s")
    minutes, seconds = divmod(round(spoken_s if isinstance(spoken_s, int | float) else told_s[fact.event_seq]), 60)
    return f"{minutes:02d}:{seconds:02d}"


def _number(value: Json) -> float:
    return float(value) if isinstance(value, int | float) else 0.0
