"""Ten questions of a reviewer, answered by a script that reads the text of the first screen and nothing else.

The answers are held against the lines of each record, read without the code that makes the page.
"""

import re
import sys
from pathlib import Path

import pytest
from awkward_visits import AWKWARD
from test_report_agreement import EXPECTED, NAMES, OUTCOMES, lines

from handsfree.report.record_page import make_report

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
from read_first_screen import answers

PHRASES = {"therapist": "hand therapist", "surgeon": "surgeon"}
REASONS = {"settled": "settled after inspection", "senior": "senior agrees", "judged": "clinical decision"}

WENT_AWAY = {
    "misheard": "the first value had been misheard",
    "answered_again": "another answer took its place",
    "meant_from_the_start": "the earlier record was given as meant",
}


@pytest.fixture(scope="module")
def answered(awkward):
    return {name: answers(make_report(folder)[0]) for name, folder in awkward.items()}


@pytest.mark.parametrize("name", AWKWARD)
def test_ten_questions_are_answered_from_the_first_screen_alone(name, awkward, answered):
    folder, expected, found = awkward[name], EXPECTED[name], answered[name]
    assert len(found) >= 10
    ended = lines(folder, "light_turned_off")
    early = [one for one in ended if one["end"] in {"stopped", "cried", "interrupted"}]
    told = found["was the light stopped early, where, by what, after how long"]
    assert [zone for zone, _, _ in told] == [NAMES[zone] for zone in expected.early]
    if early:
        assert [seconds for _, _, seconds in told] == pytest.approx([one["credited_s"] for one in early], abs=0.05)
        words = [one["reason"] if one["end"] == "stopped" else None for one in early]
        assert all(word in (None, said) for word, (_, said, _) in zip(words, told, strict=True))
    assert found["did anybody say that the light was off"] is (name != "hot_and_nobody_said_off")
    lifted = [data for data in lines(folder, "hold_lifted") if data["role"] is not None]
    who = [(by.partition(", code ")[0], why) for by, _, why in found["who lifted the hold, which, why"]]
    assert who == [(PHRASES[data["role"]], REASONS[data["reason"]]) for data in lifted]
    codes = [by.partition(", code ")[2] or None for by, _, _ in found["who lifted the hold, which, why"]]
    assert codes == [data["code"] for data in lifted]
    by_cause = [data["reason"] for data in lines(folder, "hold_lifted") if data["role"] is None]
    assert found["which hold went by another answer"] == [WENT_AWAY[reason] for reason in by_cause]
    never = len(lines(folder, "hold_set")) - len(lines(folder, "hold_lifted"))
    assert found["which hold was never lifted"] == never
    changed = found["which value was changed after the fact, to what, by whom, why"]
    assert [(by, why) for _, _, by, why in changed] == [
        (data["by"], data["reason"])
        for data in lines(folder, "amended")
        if any(data["now"].get(key) is not None for key in ("value", "side", "text"))
    ]
    off = found["which zone is off its target, by how much"]
    closing = lines(folder, "visit_closed")
    sums = {zone["label"]: zone for zone in closing[0]["zones"]} if closing else {}
    assert set(off) == {NAMES[zone] for zone in (*expected.over, *expected.short) if sums[NAMES[zone]]["lit_s"]}
    for zone, seconds in off.items():
        assert seconds == pytest.approx(sums[zone]["lit_s"] - sums[zone]["target_s"], abs=0.05)
    assert len(found["which red finding stands"]) == expected.red
    assert len(found["what was heard with doubt"]) == expected.doubtful
    stands = found["how does it stand: ended, practice, approved, typed, attested"]
    assert (stands["ended"], stands["practice"]) == (OUTCOMES[expected.outcome], expected.practice)
    assert (stands["typed"], stands["approved"]) == (expected.typed, False)
    assert bool(found["what is open"]) is bool(
        expected.open or expected.unread or not closing or name == "much_skipped_and_ended_early"
    )


def test_it_is_no_more_than_ten_lines_and_says_how_many_more_there_are(tmp_path):
    from report_samples import confirmed, heard, written

    doubted = [
        confirmed(f"step_{number}", "one", "yes", asked=True, heard=heard(f"maybe {number}", 0.5, number + 1.0))
        for number in range(25)
    ]
    page, _ = make_report(written(tmp_path / "visit", *doubted))
    first = page[page.index('<section id="first"') : page.index("<details>")]
    assert first.count('<span class="mark ') == 10
    assert "and 15 more of the kind, below" in first
    rest = page[page.index("<details>") : page.index('<section id="visit"')]
    assert rest.count('<span class="mark doubt">') == 15


def test_red_does_not_look_like_a_caution():
    style = (Path(__file__).resolve().parents[2] / "handsfree/report/templates/page.css").read_text(encoding="utf-8")
    kinds = ("broken", "stopped", "overridden", "red", "light", "doubt", "changed", "open")
    rules = {kind: style.partition(f".mark.{kind} {{")[2].partition("}")[0] for kind in kinds}
    signs = {kind: style.partition(f".mark.{kind}::before {{")[2].partition("}")[0] for kind in kinds}
    assert all(rules.values())
    assert len(set(rules.values())) == len(set(signs.values())) == len(kinds)
    assert ".badge.flag.red" in style


def test_every_colour_that_is_named_is_given_in_the_light_and_in_the_dark():
    style = (Path(__file__).resolve().parents[2] / "handsfree/report/templates/page.css").read_text(encoding="utf-8")
    used = set(re.findall(r"var\((--[a-z-]+)\)", style))
    light, dark = (dict(re.findall(r"(--[a-z-]+): ([^;]+);", part)) for part in style.split("prefers-color-scheme", 1))
    assert used <= set(light)
    assert not [name for name, value in light.items() if "var(" in value]
    assert used - {"--on-stop"} <= set(dark) | {"--lit"}
