"""How much of the bundled fitting the tool itself speaks: whole wording, and the short one for experts.

Plays the same script through the recogniser, with novice and with expert wording; lengths are from the sample clock.
In the script people answer as soon as the tool is quiet, which gives the highest share that there can be. With
`--hands` each answer first takes as long as `HANDS_S` says that the hands need before anybody can know it. Synthetic
voices, one visit each.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from ruamel.yaml import YAML

VARIANTS = {
    "novice, 150 words a minute": ("--novice", "--rate", "150"),
    "expert, 150 words a minute": ("--expert", "--rate", "150"),
    "expert, 180 words a minute": ("--expert", "--rate", "180"),
}
# Seconds of work before the answer is known. Common practice, no source; low on purpose. A refill is pressed for five
# seconds (Arch Dis Child 2015;100:239) and counted after, and a pulse is felt for some.
HANDS_S = {
    "order": 20, "identity": 15, "side_verification": 20, "jewelry": 15, "circumference": 25, "device_lot": 8,
    "device_condition": 15, "light_check": 15, "skin_before": 20, "circulation_before": 20, "sensation_before": 20,
    "power_before": 12, "padding": 90, "eye_protection": 15, "setup": 30, "time_out": 15, "sleeve_on": 90,
    "position": 30, "rotation": 8, "position_mid": 15, "firmness": 15, "motion": 20, "resin": 10, "eyewear_off": 5,
    "skin_after": 10, "circulation_after": 20, "sensation_after": 20, "power_after": 12, "position_after": 15,
    "teach_care": 10, "teach_red_flags": 10, "leaflet": 10, "handover": 20,
}  # fmt: skip
_CLOSING = re.compile(r"completed\w*: (\d+) utterances .* visit (\d+) min (\d+) s, the tool spoke (\d+)%")


def with_hands(script: Path, into: Path) -> None:
    """Write the script with the work of the hands before the answers that need it."""
    yaml = YAML(pure=True)
    content = yaml.load(script.read_text(encoding="utf-8"))
    for line in content["lines"]:
        seconds = HANDS_S.get(line["after"].partition("@")[0])
        if seconds is not None and "hears" not in line:
            line["wait_s"] = max(seconds, line.get("wait_s", 0))
    with into.open("w", encoding="utf-8") as file:
        yaml.dump(content, file)


def main() -> None:
    """Run every variant and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("script", nargs="?", default="scripts/scenarios/ulnar-fitting.yaml")
    parser.add_argument("--hands", action="store_true", help="with the time that the hands need")
    given = parser.parse_args()
    for name, options in VARIANTS.items():
        with tempfile.TemporaryDirectory() as folder:
            record = str(Path(folder) / "record")
            script = given.script
            if given.hands:
                script = str(Path(folder) / "script.yaml")
                with_hands(Path(given.script), Path(script))
            done = subprocess.run(
                [sys.executable, "-m", "handsfree", "rehearse", script, "--record", record, "--quiet", *options],
                capture_output=True,
                text=True,
                check=False,
            )
        closing = _CLOSING.search(done.stdout)
        if closing is None:
            sys.exit(f"{name}: {done.stdout}{done.stderr}")
        utterances, minutes, seconds, share = (int(part) for part in closing.groups())
        visit_s = minutes * 60 + seconds
        spoke_s = round(visit_s * share / 100)
        sys.stdout.write(f"{name}: visit {visit_s} s, tool speaks {spoke_s} s ({share} %), {utterances} utterances\n")


if __name__ == "__main__":
    main()
