"""What tests of the runner share."""

import sys
from pathlib import Path

# The short procedure is shared with the tests of live sessions.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "live"))
# So are outputs that nobody hears, with those of records.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "record"))
