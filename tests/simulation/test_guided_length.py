"""How much has to be said in a guided visit: the aim of this project, 100 utterances for a whole fitting."""

from pathlib import Path

from handsfree.cli import main

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "scenarios" / "ulnar-fitting.yaml"
MOST = 100


def test_a_guided_fitting_takes_at_most_a_hundred_utterances(tmp_path, capsys):
    main(["rehearse", str(SCRIPT), "--record", str(tmp_path / "record"), "--typed", "--quiet"])
    told = capsys.readouterr()
    words = (told.out + told.err).split()
    assert int(words[words.index("utterances") - 1]) <= MOST
