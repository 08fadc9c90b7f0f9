"""What tests of live sessions share."""

import sys
from pathlib import Path

# The rig is shared with the bench.
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
