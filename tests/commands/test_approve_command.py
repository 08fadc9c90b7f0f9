"""The approval beside a procedure: what counts, what is said where it does not, what changed since.

Ed25519: RFC 8032, section 7.1, test 1, for the key of the site. What counts as an approval: no outside source.
"""

import json

import pytest
from click.testing import CliRunner

from handsfree.application.approvals import approval_of_bundle, usual_site_keys
from handsfree.application.places import usual_config
from handsfree.commands.approve import approve
from handsfree.commands.author import card
from handsfree.commands.author import check as check_command
from handsfree.commands.record import verify
from handsfree.commands.records import export
from handsfree.commands.report import report
from handsfree.commands.run import run
from handsfree.commands.summary import summary
from handsfree.definition.loader import load_bundle
from handsfree.model.approval import ApprovalState

SEED = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
PUBLIC = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
OTHER = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
PROCEDURE = """\
form: 1
id: plain
title: A plain invented procedure
version: "1.0.0"
language: en-US
approved_by: null
sources: {book: "An invented handbook, 2020"}
cautions: [Invented.]
roles: {nurse: [ward nurse]}
skip_reasons: {declined: [patient declined]}
override_reasons: {senior: [senior agrees]}
lift: {red: {by: [nurse], reasons: [senior]}}
steps:
  - {id: bell, kind: confirm, phase: before, prompt: Is the bell within reach?, hard: true, source: book}
  - id: warmth
    kind: measure
    phase: during
    prompt: "Skin in degrees Celsius?"
    hard: true
    source: book
    timing: during
    fields:
      - id: warmth
        label: warmth
        number: {unit: Cel, low: 20, high: 45, decimals: 1, flag_above: 40, flag_class: red}
"""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with the procedure, no key and no configuration of anybody."""
    for name in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    path = tmp_path / "plain.yaml"
    path.write_text(PROCEDURE, encoding="utf-8")
    return path


@pytest.fixture
def key(tmp_path):
    path = tmp_path / "site.key"
    path.write_text(SEED + "\n")
    path.chmod(0o600)
    return path


def call(command, *words, text=None):
    return CliRunner().invoke(command, [str(word) for word in words], input=text, catch_exceptions=False)


def approved(place, *more, role="charge nurse"):
    done = call(approve, place, "--name", "A. Lead", "--role", role, *more)
    assert done.exit_code == 0, done.output
    return place.with_name("plain.approval.json")


def state(place, *keys):
    return approval_of_bundle(load_bundle(str(place)), keys).state


def changed(file, **members):
    file.write_text(json.dumps({**json.loads(file.read_text(encoding="utf-8")), **members}), encoding="utf-8")


def test_an_unsigned_approval_counts_where_the_site_names_no_key(place):
    assert state(place) is ApprovalState.NONE
    approved(place)
    assert state(place) is ApprovalState.VALID
    assert state(place, PUBLIC) is ApprovalState.UNSIGNED


def test_a_signed_one_counts_with_a_key_of_the_site_alone(place, key):
    file = approved(place, "--key-file", key)
    assert json.loads(file.read_text())["public_key"] == PUBLIC
    assert state(place, PUBLIC) is ApprovalState.VALID
    assert state(place, OTHER) is ApprovalState.UNKNOWN_KEY
    changed(file, name="B. Other")
    assert state(place, PUBLIC) is ApprovalState.BAD_SIGNATURE


@pytest.mark.parametrize(
    ("old", "new"),
    [("flag_above: 40", "flag_above: 41"), ("within reach", "in reach"), ("[senior]}}", "[senior]}, stop: never}")],
)
def test_any_change_takes_the_approval_and_its_undoing_gives_it_back(place, old, new):
    approved(place)
    place.write_text(PROCEDURE.replace(old, new), encoding="utf-8")
    assert state(place) is ApprovalState.CHANGED
    place.write_text("# a comment changes nothing that runs\n" + PROCEDURE, encoding="utf-8")
    assert state(place) is ApprovalState.VALID


def test_a_changed_block_or_profile_takes_it_too(place):
    block = place.with_name("bells.yaml")
    block.write_text(
        "form: 1\nblocks:\n  bell:\n    steps:\n"
        "      - {id: bell, kind: confirm, phase: before, prompt: Is the bell there?, hard: true, source: book}\n",
        encoding="utf-8",
    )
    lines = [line for line in PROCEDURE.splitlines() if "id: bell" not in line]
    place.write_text("\n".join(lines).replace("steps:", "include: [bells]\nsteps:\n  - use: bell"), encoding="utf-8")
    approved(place)
    assert state(place) is ApprovalState.VALID
    block.write_text(block.read_text().replace("hard: true", "hard: false"))
    assert state(place) is ApprovalState.CHANGED


def test_the_role_that_the_file_asks_for_is_the_one_that_counts(place):
    file = approved(place)
    place.write_text(PROCEDURE.replace("approved_by: null", "approved_by: lead surgeon"), encoding="utf-8")
    expanded = json.loads(load_bundle(str(place)).expanded)
    assert state(place) is ApprovalState.CHANGED
    refused = CliRunner().invoke(approve, [str(place), "--name", "A. Lead", "--role", "charge nurse"])
    assert "asks for the role lead surgeon" in str(refused.exception)
    assert json.loads(file.read_text(encoding="utf-8"))["expanded"] != expanded
    approved(place, role="lead surgeon")
    assert state(place) is ApprovalState.VALID


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b"\xff", b'{"form": 2}', b'{"form": 1, "name": "x"}', b"[" * 5000]
)
def test_what_is_no_approval_is_said_to_be_none(place, content):
    place.with_name("plain.approval.json").write_bytes(content)
    assert state(place) is ApprovalState.UNREADABLE


def test_what_it_holds_must_be_what_its_hash_says(place):
    file = approved(place)
    whole = json.loads(file.read_text(encoding="utf-8"))
    whole["expanded"]["procedure"]["title"] = "Another"
    file.write_text(json.dumps(whole), encoding="utf-8")
    assert state(place) is ApprovalState.UNREADABLE


def test_an_approval_that_counts_is_not_called_nothing(place):
    approved(place)
    told = call(approve, place).output
    assert "nothing has changed since\nthe approval counts; --name and --role approve it anew\n" in told


def test_what_changed_is_told_in_words_and_key_by_key(place):
    approved(place)
    changed_text = PROCEDURE.replace("flag_above: 40", "flag_above: 41").replace("by: [nurse]", "by: [doctor]")
    changed_text = changed_text.replace("roles: {", "roles: {doctor: [ward doctor], ").replace(
        "within reach", "in reach"
    )
    place.write_text(changed_text, encoding="utf-8")
    told = call(approve, place).output
    for line in (
        "  warmth: no longer RED warmth over 40 °C",
        "  warmth: now RED warmth over 41 °C",
        "  bell: asks “Is the bell in reach?”, asked “Is the bell within reach?”",
        "  who may lift what: now red: ward doctor, senior agrees",
        "  procedure.steps.warmth.fields.warmth.number.flag_above: 40 → 41",
        '  procedure.lift.red.by: ["nurse"] → ["doctor"]',
        "the version is still 1.0.0: raise it, so that records tell the two apart",
        "nothing was approved; --name and --role approve it as it stands",
    ):
        assert line in told, told
    assert state(place) is ApprovalState.CHANGED


def test_a_faulty_file_and_a_bundled_example_are_not_approved(place):
    bundled = CliRunner().invoke(approve, ["light-output-check", "--name", "A", "--role", "b"])
    assert "bundled example" in str(bundled.exception)
    place.write_text(PROCEDURE.replace("hard: true\n    source: book\n    timing", "source: book\n    timing"))
    faulty = CliRunner().invoke(approve, [str(place), "--name", "A", "--role", "b"])
    assert "may be skipped, and with it what stops" in str(faulty.exception)
    assert not place.with_name("plain.approval.json").exists()


def told_by_a_visit(place, folder, *more):
    heard = call(run, place, "--typed", "--record", folder, *more, text="affirmative\n36.5\naffirmative\n")
    assert heard.exit_code == 0, heard.output
    return heard.output


def readers(folder, page):
    assert call(verify, folder).exit_code == 0
    call(report, folder, "--output", page)
    return (
        call(summary, folder).output,
        call(export, folder, "--to", "note").output,
        call(export, folder, "--to", "fhir").output,
        page.read_text(encoding="utf-8"),
    )


def test_a_visit_without_a_valid_approval_says_so_at_its_start_at_its_close_and_on_every_page(place, tmp_path):
    approved(place)
    assert "Not for clinical use" not in told_by_a_visit(place, tmp_path / "good")
    for told in readers(tmp_path / "good", tmp_path / "good.html"):
        assert "Approved by charge nurse on" in told
        assert "ot approved" not in told
    place.write_text(PROCEDURE.replace("flag_above: 40", "flag_above: 41"), encoding="utf-8")
    told = " ".join(told_by_a_visit(place, tmp_path / "bad").split())
    first, last = (at(told, "The procedure has changed since it was approved.") for at in (str.index, str.rindex))
    assert first < told.index("Is the bell") < told.index("thirty six point five") < last < told.index("and closed")
    for told in readers(tmp_path / "bad", tmp_path / "bad.html"):
        assert "Not approved: changed since the approval by charge nurse" in " ".join(told.split())
    header = json.loads((tmp_path / "bad" / "record.jsonl").read_text(encoding="utf-8").splitlines()[0])
    assert header["data"]["approval"]["state"] == "changed"


def test_check_and_card_say_how_the_approval_stands(place):
    assert "Not approved by anybody (handsfree approve" in call(check_command, place).output
    assert "Not approved by anybody" in call(card, place, "--text").output
    approved(place)
    assert "pproved" not in call(check_command, place).output
    assert "Approved by charge nurse on" in call(card, place, "--text").output


def test_the_keys_of_the_site_stand_in_the_configuration(place, key, tmp_path):
    config = tmp_path / "config.toml"
    config.write_text(f'[approval]\nkeys = ["{PUBLIC}"]\n')
    approved(place)
    assert "is not signed" in call(check_command, place, "--config", config).output
    unsigned = CliRunner().invoke(approve, [str(place), "--config", str(config), "--name", "A", "--role", "b"])
    assert "give --key-file" in str(unsigned.exception)
    approved(place, "--config", config, "--key-file", key)
    assert "pproved" not in call(check_command, place, "--config", config).output


def test_rehearsal_and_practice_go_by_the_usual_configuration(place, tmp_path):
    assert usual_site_keys() == ()
    config = usual_config()
    assert tmp_path in config.parents
    config.parent.mkdir(parents=True)
    config.write_text(f'[approval]\nkeys = ["{PUBLIC}"]\n')
    assert usual_site_keys() == (PUBLIC,)
    config.write_text("[approval]\nkeys = 3\n")
    assert usual_site_keys() == ()
