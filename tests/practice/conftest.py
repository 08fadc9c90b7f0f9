import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "golden"), str(TESTS.parent / "scripts")]
