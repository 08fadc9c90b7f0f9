import pytest

from handsfree.application.recall_list import read_recalls
from handsfree.errors import UsageError


def test_lots_are_read_as_they_are_said(tmp_path):
    path = tmp_path / "recalls.csv"
    path.write_text("\ufefflot,reason\na-15 b,leaks\nC7,\n", encoding="utf-8")
    assert read_recalls(path).lots == {"A15B": "leaks", "C7": ""}


@pytest.mark.parametrize(("text", "part"), [("batch\nA1\n", ":2: no lot"), ("lot,reason\nA1,x\n,y\n", ":3: no lot")])
def test_a_row_without_a_lot_is_refused(tmp_path, text, part):
    path = tmp_path / "recalls.csv"
    path.write_text(text)
    with pytest.raises(UsageError, match=part):
        read_recalls(path)


def test_a_missing_list_is_refused(tmp_path):
    with pytest.raises(UsageError, match="cannot be read"):
        read_recalls(tmp_path / "none.csv")
