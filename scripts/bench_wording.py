"""How much of the bundled fitting the tool itself speaks: whole wording, and the short one for experts.

Plays the same script through the recogniser, with novice and with expert wording; lengths are from the sample clock.
People answer as soon as the tool is quiet, and no time is added for the work of the hands, so that the shares are the
highest that there can be. Synthetic voices, one visit each.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path

VARIANTS = {
    "novice, 150 words a minute": ("--novice", "--rate", "150"),
    "expert, 150 words a minute": ("--expert", "--rate", "150"),
    "expert, 180 words a minute": ("--expert", "--rate", "180"),
}
_CLOSING = re.compile(r"completed: (\d+) utterances .* visit (\d+) min (\d+) s, the tool spoke (\d+)%")


def main() -> None:
    """Run every variant and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("script", nargs="?", default="scripts/scenarios/ulnar-fitting.yaml")
    script = parser.parse_args().script
    command = Path(sys.executable).with_name("handsfree")
    for name, options in VARIANTS.items():
        with tempfile.TemporaryDirectory() as folder:
            record = str(Path(folder) / "record")
            done = subprocess.run(
                [str(command), "rehearse", script, "--record", record, "--quiet", *options],
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
