import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "record"))


@pytest.fixture(scope="session")
def fitting(tmp_path_factory):
    """A whole fitting, typed: its folder and what the session said."""
    from report_visits import rehearsed

    folder = tmp_path_factory.mktemp("fitting")
    return folder, rehearsed("ulnar-fitting", folder).outputs.prompts


@pytest.fixture(scope="session")
def broken_off(tmp_path_factory):
    """A light check that was ended early, with sound: open items, a note, a stop value."""
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    from report_visits import ended_early

    folder = tmp_path_factory.mktemp("broken-off")
    ended_early(folder, clips=True)
    return folder
