"""The page as a document: what it may load, what it escapes, where its links lead."""

import base64
import hashlib
import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from report_samples import CLOSED, HEADER, confirmed, heard, written

from handsfree.cli import main
from handsfree.model.facts import HoldSet, ItemTaught, LightTurnedOn, NoteTaken, StepEntered, ZoneSum
from handsfree.model.open_items import OpenHold, OpenStep
from handsfree.model.reasons import AsWritten, Grounds
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.record.verify import verify
from handsfree.report.light_picture import light_picture
from handsfree.report.procedure_at_hand import procedure_of
from handsfree.report.record_page import make_report

HOSTILE = '<script>alert(1)</script><img src="https://example.invalid/x" onerror="alert(2)">{{ 7 * 7 }}</style>'
VOID = {"meta", "br", "img", "input", "hr", "link"}


class Page(HTMLParser):
    """Elements with their attributes; complains about what is not closed."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements = []
        self.text = {}
        self.open = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        tag = self.open[-1] if self.open else ""
        self.text[tag] = self.text.get(tag, "") + data

    def every(self, name):
        return [attributes[name] for _, attributes in self.elements if name in attributes]


@pytest.fixture(scope="module")
def page(broken_off):
    text, _ = make_report(broken_off)
    return text


def test_every_element_is_closed_and_every_id_is_there_once(page):
    # HTML standard: an id is unique in its tree.
    ids = Page(page).every("id")
    assert len(ids) == len(set(ids))


def test_every_link_leads_somewhere(page):
    found = Page(page)
    ids = set(found.every("id"))
    links = found.every("href")
    assert links
    assert {link.removeprefix("#") for link in links if link != "data:,"} <= ids  # an empty icon, never asked for


def test_every_label_that_is_referred_to_exists(page):
    # WAI-ARIA 1.2: aria-labelledby is a list of ids.
    found = Page(page)
    ids = set(found.every("id"))
    assert {name for names in found.every("aria-labelledby") for name in names.split()} <= ids


def test_the_policy_lets_only_the_pages_own_style_and_script_run(page):
    # CSP Level 3, hash-source: base64 of SHA-256 over the exact content.
    found = Page(page)
    policy = next(a["content"] for tag, a in found.elements if a.get("http-equiv") == "Content-Security-Policy")
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    for tag in ("style", "script"):
        content = re.search(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)[1]
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert rules[f"{tag}-src"] == f"'sha256-{digest}'"
    assert rules["default-src"] == "'none'"
    assert rules["media-src"] == "data:"
    assert "connect-src" not in rules
    assert "unsafe" not in policy


def test_nothing_in_the_page_comes_from_elsewhere(page):
    found = Page(page)
    assert all(source.startswith("data:audio/flac;base64,") for source in found.every("src"))
    assert not found.every("style")
    assert not [name for _, attributes in found.elements for name in attributes if name.startswith("on")]
    assert "url(http" not in page
    assert "@import" not in page


def test_a_play_button_has_its_sound(page):
    found = Page(page)
    clips = {f"clip-{name}" for name in found.every("data-clip")}
    assert clips
    assert clips <= set(found.every("id"))


def test_hostile_words_stay_words(tmp_path):
    header = replace(HEADER, procedure=HOSTILE, title=HOSTILE, record_id=HOSTILE, patient_reference=None)
    zone = ZoneSum(
        zone="a", label=HOSTILE, lit_s=1.0, possible_s=1.0, target_s=6.0, dose_j_cm2=0.1, runs=1, strap_shadowed=False
    )
    why = Grounds(AsWritten(HOSTILE))
    facts = (
        StepEntered(stage=HOSTILE, step=HOSTILE, phase="before", again=False),
        confirmed(HOSTILE, HOSTILE, HOSTILE, label=HOSTILE, heard=replace(heard(HOSTILE), runner_up=HOSTILE)),
        HoldSet(hold="red", stage=HOSTILE, grounds=why),
        LightTurnedOn(stage=HOSTILE, zone="a", counted_from_s=4.0, heat_reported=True, heard=heard(HOSTILE)),
        ItemTaught(stage=HOSTILE, item=HOSTILE, said=HOSTILE, teach_back=True),
        NoteTaken(text=HOSTILE, stage=HOSTILE, verified=False, broken_off=False),
    )
    closing = replace(CLOSED, zones=(zone,), open_items=(OpenHold(why), OpenStep(HOSTILE)))
    text, _ = make_report(written(tmp_path / "r", *facts, header=header, closing=closing))
    found = Page(text)
    tags = [tag for tag, _ in found.elements]
    assert tags.count("script") == 1
    assert "img" not in tags
    assert HOSTILE in found.text["p"]
    assert "49" not in found.text["h1"]


def test_practice_is_marked_across_the_page_and_a_live_visit_is_not(page, fitting):
    text, _ = make_report(fitting[0])
    practice, live = Page(text), Page(page)
    assert "watermark" in practice.every("class")
    assert "banner" in practice.every("class")
    assert "watermark" not in live.every("class")
    assert "PRACTICE" in text.split("<title>")[1].split("</title>")[0]
    assert "PRACTICE" not in page.split("<title>")[1].split("</title>")[0]


def test_the_light_given_is_drawn_on_the_hand_that_was_declared_and_told_in_words(fitting):
    text, _ = make_report(fitting[0])
    record = verify(fitting[0]).record
    found = light_picture(record, procedure_of(record))
    assert found.drawing in text
    assert found.caption == f"{record.side} hand, back of it, schematic"
    told = [f"{number} {name}" for number, name in found.zones]
    assert told == [f"{at} {zone.label}" for at, zone in enumerate(record.zones, start=1)]
    first = record.zones[0]
    assert f"1 {first.label}: {first.lit_s:.1f} of {first.target_s:.1f} s, {first.standing.value}" in found.drawing


def test_zones_of_another_procedure_are_not_drawn_as_those_of_the_record(fitting):
    record = verify(fitting[0]).record
    other = replace(procedure_of(record), sha256="0" * 64)
    assert light_picture(record, other) is None
    assert light_picture(record, None) is None


def test_what_is_open_stands_before_everything_else(page):
    assert page.index("Hold not lifted: battery running low") < page.index('id="course"') < page.index('id="readings"')


def test_an_amended_note_shows_what_it_was(tmp_path, broken_off):
    folder = tmp_path / "copy"
    shutil.copytree(broken_off, folder)
    before, _ = make_report(folder)
    entry = int(re.search(r'<li id="entry-(\d+)">\s*<p class="dictated">cable tie', before)[1])
    amend(folder, entry, Amended(text="strap is missing"), by="technician", reason="misheard")
    text, _ = make_report(folder)
    assert '<p class="dictated">strap is missing</p>' in text
    assert "<del>cable tie is missing</del> amended by technician" in text


def test_without_sound_there_are_no_play_buttons(broken_off):
    text, sounds = make_report(broken_off, sound=False)
    assert sounds.clips == ()
    assert "<audio" not in text
    assert 'class="play"' not in text


def run(capsys, *arguments):
    try:
        main(list(arguments))
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_command_writes_a_private_file_and_says_its_size(capsys, tmp_path, broken_off):
    path = tmp_path / "page.html"
    code, out, err = run(capsys, "report", str(broken_off), "--output", str(path))
    assert (code, out) == (0, "")
    assert "13 utterances with sound" in err
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("make", "code", "words"),
    [
        (lambda folder: None, 8, "holds no record"),
        (lambda folder: (folder / "record.jsonl").write_text("{}\n"), 8, "cannot be shown: line 1"),
    ],
)
def test_what_is_no_record_is_refused_in_one_line(capsys, tmp_path, make, code, words):
    folder = tmp_path / "r"
    folder.mkdir()
    make(folder)
    found, _, err = run(capsys, "report", str(folder), "--output", str(tmp_path / "p.html"))
    assert found == code
    assert words in err
    assert len(err.splitlines()) == 1
    assert not (tmp_path / "p.html").exists()


def test_a_place_that_cannot_be_written_is_named(capsys, tmp_path, broken_off):
    code, _, err = run(capsys, "report", str(broken_off), "--output", str(tmp_path / "none" / "p.html"))
    assert code == 2
    assert "cannot write" in err
    assert len(err.splitlines()) == 1


def test_a_faulty_procedure_file_is_refused(capsys, tmp_path, broken_off):
    faulty = tmp_path / "mine.yaml"
    faulty.write_text("form: 1\n")
    path = tmp_path / "p.html"
    code, _, err = run(capsys, "report", str(broken_off), "--output", str(path), "--procedure", str(faulty))
    assert code == 3
    assert "mine.yaml" in err
