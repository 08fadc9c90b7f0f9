"""All readers of the awkward visits agree on what lifted a hold, and on steps that an amendment turned.

The lines of the record are the judge, as in `test_report_agreement.py`.
"""

import html

import pytest
from awkward_visits import AWKWARD
from test_report_agreement import bundle_of, lines, page_text, screen, unwrapped, visit_of

from handsfree.application.words_for_export import export_words
from handsfree.export.choose import ExportForm, export


@pytest.fixture(params=AWKWARD)
def folder(request, awkward):
    return awkward[request.param]


WENT_AWAY = {
    "misheard": "by whoever answered: the first value had been misheard",
    "answered_again": "by whoever answered: another answer took its place",
    "meant_from_the_start": "by whoever began it: the earlier record was given as meant",
}


def test_who_lifted_what_went_away_and_why_is_told_in_plain_words(folder):
    reasons = [data["reason"] for data in lines(folder, "hold_lifted") if data["role"] is None]
    note = export(folder, ExportForm.NOTE, export_words)
    told = " ".join(unwrapped(screen(folder)))
    for reason in reasons:
        assert WENT_AWAY[reason] in note
        assert WENT_AWAY[reason] in told
        assert WENT_AWAY[reason].partition(": ")[2] in page_text(folder)[1]
    assert "lifted by misheard" not in note


def test_a_step_whose_condition_an_amendment_turned(folder):
    turned = [one["name"] for data in lines(folder, "amended") for one in data.get("turned", ())]
    assert bool(turned) is (folder.name == "amended_so_that_a_step_should_not_count")
    told = " ".join(unwrapped(screen(folder)))
    assert ("since an amendment" in told.lower()) is bool(turned)
    for name in turned:
        words = f"since an amendment, {name} should not count"
        bundle = html.unescape(bundle_of(folder)[0])
        table = export(folder, ExportForm.CSV, export_words).replace('""', '"')
        page, note = page_text(folder)[1], export(folder, ExportForm.NOTE, export_words)
        for text in (told, html.unescape(page), note, bundle, table, " ".join(visit_of(folder).amended)):
            assert words in text.replace("Since an", "since an")
