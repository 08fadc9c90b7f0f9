#!/usr/bin/env python3
"""Answer ten questions about a visit from the first screen of its page alone, by what stands there as text.

    python scripts/read_first_screen.py PAGE.html

Prints one JSON object: question and answer. It uses nothing of handsfree and reads nothing that is folded away: what it
cannot find there, a reviewer with three minutes would not find either.
"""

import html
import json
import re
import sys
from pathlib import Path

STOPPED = re.compile(
    r"“(?P<word>[^”]+)”(?:, taken for a cry,)? at (?P<at>[\d:]+) ended the light on (?P<zone>.+?) after (?P<s>[\d.]+) s"
)
BREAK = re.compile(
    r"(?:A break cut the light on|The record ends with the light on,) (?P<zone>.+?)(?: after|:) (?P<s>[\d.]+) s"
)
LIFTED = re.compile(r"(?P<who>[^;]+?) lifted the hold “(?P<hold>[^”]+)”: (?P<why>.+)")
BY_CAUSE = re.compile(r"; lifted without an override by (?P<who>[^:]+): (?P<why>.+)")
AFTERWARDS = re.compile(r"Afterwards, by (?P<who>[^:]+): (?P<what>.+?) → (?P<now>.+?), “(?P<why>[^”]*)”")
ZONE = re.compile(
    r"(?P<zone>[a-z][a-z ]*?) (?P<lit>[\d.]+) of (?P<target>[\d.]+) s \((?P<off>[\d.]+) s (?P<way>over|missing)\)"
)


def lines_of(page: str) -> tuple[list[str], list[tuple[str, str]]]:
    """The statuses, and the lines with their kind, as text."""
    first = page[page.index('<section id="first"') :]
    first = first[: first.index("<details>")]
    statuses = [text_of(one) for one in re.findall(r"<li>([^<]*)</li>", first.partition('<ul class="look"')[0])]
    found = re.findall(
        r'<span class="mark [a-z]+">(.*?)</span>\s*<span class="what">(.*?)</span>\s*<span class="when">',
        first,
        re.DOTALL,
    )
    return statuses, [(text_of(kind), text_of(what)) for kind, what in found]


def text_of(markup: str) -> str:
    """Markup as text."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", markup))).strip()


def answers(page: str) -> dict[str, object]:
    """The ten answers."""
    statuses, lines = lines_of(page)
    of_kind = {kind: [what for one, what in lines if one == kind] for kind, _ in lines}
    stopped = of_kind.get("Stopped", [])
    light = [found.groupdict() for what in stopped if (found := STOPPED.search(what) or BREAK.search(what))]
    outcome = next(
        one for one in ("Completed with overrides", "Completed", "Ended early", "Not closed") if one in statuses
    )
    return {
        "was the light stopped early, where, by what, after how long": [
            (one["zone"], one.get("word", "break"), float(one["s"])) for one in light
        ],
        "did anybody say that the light was off": not any("nobody said light off" in what for what in stopped),
        "who lifted the hold, which, why": [
            (found["who"], found["hold"], found["why"])
            for what in of_kind.get("Overridden", [])
            if (found := LIFTED.fullmatch(what))
        ],
        "which hold went by another answer": [found["why"] for what in stopped if (found := BY_CAUSE.search(what))],
        "which hold was never lifted": sum("the hold was never lifted" in what for what in stopped),
        "which value was changed after the fact, to what, by whom, why": [
            (found["what"], found["now"], found["who"], found["why"])
            for what in of_kind.get("Changed", [])
            if (found := AFTERWARDS.search(what))
        ],
        "which zone is off its target, by how much": {
            found["zone"]: float(found["off"]) * (1 if found["way"] == "over" else -1)
            for what in of_kind.get("Light off target", [])
            for found in ZONE.finditer(what)
        },
        "which red finding stands": of_kind.get("Red finding", []),
        "what was heard with doubt": of_kind.get("Doubtful", []),
        "how does it stand: ended, practice, approved, typed, attested": {
            "ended": outcome,
            "practice": any(one.startswith("Practice") for one in statuses),
            "approved": "Not approved by anybody" not in statuses,
            "typed": "All values typed" in statuses,
            "attested": next(one for one in statuses if "ttested" in one),
        },
        "what is open": of_kind.get("Open", []),
    }


def main() -> None:
    """Read a page and print the answers."""
    if len(sys.argv) != 2:
        sys.exit("give one file: the page of `handsfree report RECORD --output FILE`")
    page = Path(sys.argv[1]).read_text(encoding="utf-8")
    sys.stdout.write(json.dumps(answers(page), indent=2, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
