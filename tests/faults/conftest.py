import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path += [str(ROOT / "scripts"), str(ROOT / "tests" / "record"), str(ROOT / "tests" / "review")]
