import sys
from collections.abc import Mapping
from pathlib import Path

import portalocker
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


class _Worked(Mapping):
    """Folders of the awkward visits by name: each is worked through a real session when it is first asked for.

    Once for all processes that run tests beside each other: one works, and whoever else wants it waits.
    """

    def __init__(self, place):
        from awkward_visits import AWKWARD

        self._place, self._work = place, AWKWARD

    def __getitem__(self, name):
        folder = self._place / name
        with portalocker.Lock(self._place / f"{name}.lock", timeout=300):
            worked = self._place / f"{name}.worked"
            if not worked.exists():
                self._work[name](folder)
                worked.touch()
        return folder

    def __iter__(self):
        return iter(self._work)

    def __len__(self):
        return len(self._work)


@pytest.fixture(scope="session")
def awkward(tmp_path_factory, worker_id):
    """Awkward visits by name: their folders. Nobody changes them."""
    place = tmp_path_factory.mktemp("awkward")
    if worker_id != "master":
        place = tmp_path_factory.getbasetemp().parent / "awkward-visits"
    place.mkdir(exist_ok=True)
    return _Worked(place)
