import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "golden"))


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


@pytest.fixture(scope="session")
def cut_in_the_light(tmp_path_factory):
    """A fitting whose program ended three seconds into the light of the first zone: its folder."""
    from report_visits import Typist, script

    folder = tmp_path_factory.mktemp("cut-in-the-light")
    lines = script("ulnar-fitting")
    first = next(number for number, line in enumerate(lines["lines"]) if line["say"] == "light on")
    typist = Typist(lines["procedure"], folder)
    with typist.journal:
        for line in lines["lines"][: first + 1]:
            typist.settle()
            typist.wait(0.4)
            typist.say(line["say"], line.get("means", {}))
        typist.wait(3.5)
    return folder


@pytest.fixture(scope="session")
def awkward(tmp_path_factory):
    """Awkward visits by name, each worked through a real session once: their folders."""
    from awkward_visits import AWKWARD

    place = tmp_path_factory.mktemp("awkward")
    for name, work in AWKWARD.items():
        work(place / name)
    return {name: place / name for name in AWKWARD}
