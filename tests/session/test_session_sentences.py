"""Every sentence has its code, its words and its place: none stands elsewhere in the core, none is without words."""

import ast
import dataclasses
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

import handsfree
from handsfree.authoring.checks import check
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.model import open_items, reasons, refusals
from handsfree.model.effects import Say
from handsfree.model.patient_reference import ReferenceFault
from handsfree.model.readings import HowToSay, Side
from handsfree.model.reasons import AsWritten, Ground, Grounds, NoValue, ScanFaultCode
from handsfree.model.refusals import FitCode, Refusal, RefusalCode, RefusalReason
from handsfree.session.prompts import following_sentences, hints, hold_sentences, sentence_codes
from handsfree.session.prompts.fixed import Consequence, Fixed, HoldAction, WayOn
from handsfree.session.prompts.hints import Hint, HintWith
from handsfree.session.prompts.sentence_codes import Prompt, Sentence, StillMissing
from handsfree.session.prompts.wording import Wording, catalogue, code_of
from handsfree.session.questions import late_warmth, warmth

PACKAGE = Path(handsfree.__file__).parent
CORE = ("session", "model", "exposure/ledger.py", "exposure/light_cues.py", "exposure/agreement.py", "exposure/runs.py")
A_SENTENCE = re.compile(r"^[A-Z][a-z]+( [\w'{}:,]+)+[.?!]|^[A-Z][a-z]+ [a-z' ]+$|\{[^}]*\}[.?] | [a-z]+[.?]$")
CODES = {
    "": Fixed,
    "action": HoldAction,
    "consequence": Consequence,
    "way": WayOn,
    "hint": Hint,
    "refusal": RefusalCode,
    "fit": FitCode,
    "say": HowToSay,
    "reference": ReferenceFault,
}


def types_of(module, base):
    found = [item for item in vars(module).values() if isinstance(item, type) and issubclass(item, base)]
    return [item for item in found if item is not base and item.__module__ == module.__name__]


def spoken():
    """Every type of sentence."""
    return [
        one for module in (sentence_codes, hold_sentences, following_sentences) for one in types_of(module, Sentence)
    ]


def tag_of(kind):
    return next(item.default for item in dataclasses.fields(kind) if item.name == "type")


def expected_codes():
    found = {f"fixed.{code}" for code in Fixed}
    for table, codes in CODES.items():
        found |= {f"{table}.{code}" for code in codes} if table else set()
    found |= {f"scan_fault.{code}" for code in ScanFaultCode}
    found |= {f"sentence.{code_of(kind)}" for kind in spoken()} - {"sentence.refused_because"}
    found |= {f"hint.{code_of(kind)}" for kind in types_of(hints, HintWith)}
    found |= {f"open.{tag_of(kind)}" for kind in types_of(open_items, reasons.Reason)}
    grounds = {tag_of(kind) for kind in get_args(Ground)} - {"scan_fault"}
    alone = {
        "numbered",
        "repeated",
        "alike",
        "recalled_because",
        "baseline_of_unknown_patient",
        "heat_was_affirmed",
        "flagged_answer_told",
    }
    found |= {f"reason.{kind}" for kind in grounds | alone}
    kinds = {tag_of(kind) for kind in get_args(RefusalReason)} - {"refusal", "does_not_fit", "no_reference"}
    return found | {f"refusal.{kind}" for kind in {*kinds, "whole"}}


def test_every_code_has_words_and_every_word_a_code():
    whole = {code for code in catalogue() if not code.startswith("short.")}
    assert whole == expected_codes()


def test_every_short_sentence_shortens_a_whole_one():
    names = {code.partition(".")[2] for code in catalogue() if code.startswith(("fixed.", "sentence."))}
    assert {code.partition(".")[2] for code in catalogue() if code.startswith("short.")} <= names


def test_every_place_of_a_sentence_is_an_argument_of_its_type():
    for kind in [*spoken(), *types_of(hints, HintWith)]:
        table = "hint" if issubclass(kind, HintWith) else "sentence"
        words = catalogue().get(f"{table}.{code_of(kind)}", "")
        places = {place for place, _ in re.findall(r"\{(\w+)(?::(\w+))?\}", words)}
        assert places <= {item.name for item in dataclasses.fields(kind)}, kind


SAMPLES = {
    "str": "wrist",
    "int": 3,
    "float": 2.5,
    "Decimal": Decimal("17.5"),
    "date": date(2027, 11, 30),
    "Side": Side.LEFT,
    "tuple[str, ...]": ("wrist", "ring"),
    "Grounds": Grounds(NoValue("wrist")),
    "tuple[Grounds, ...]": (Grounds(NoValue("wrist")), Grounds(AsWritten("x"))),
    "AnyHint": Hint.NEXT_STEP,
    "RefusalReason": Refusal(RefusalCode.HELD),
    "OpenItem": open_items.OpenStep("wrist"),
    "Consequence": Consequence.GOES_ON,
    "tuple[WayOn, ...]": (WayOn.CORRECTION, WayOn.END_VISIT),
    "tuple[OpenItem, ...]": (open_items.OpenStep("wrist"),),
    "HowToSay": HowToSay.SIDE_FIRST,
    "tuple[ZoneSoFar, ...]": (sentence_codes.ZoneSoFar("front", 1.5, 6.0),),
    "HeatWord": "hot",
}


def sample(kind):
    """A value of a type of sentence, hint or reason, whatever its members."""
    given = {}
    for item in dataclasses.fields(kind):
        if item.default is not dataclasses.MISSING:
            continue
        hint = get_type_hints(kind)[item.name]
        literal = [value for value in get_args(hint) if isinstance(value, str)]
        name = str(item.type) if isinstance(item.type, str) else getattr(hint, "__name__", str(hint))
        name = name if name in SAMPLES else str(hint)
        if item.name == "clock":
            given[item.name] = "0930"
        elif literal:
            given[item.name] = literal[0]
        elif name in SAMPLES:
            given[item.name] = SAMPLES[name]
        elif hint in (FitCode, ScanFaultCode, RefusalCode, ReferenceFault):
            given[item.name] = next(iter(hint))
        elif hint == sentence_codes.RefusalReason:
            given[item.name] = SAMPLES["RefusalReason"]
        elif hint == hints.AnyHint:
            given[item.name] = SAMPLES["AnyHint"]
        elif item.name == "ways":
            given[item.name] = SAMPLES["tuple[WayOn, ...]"]
        elif item.name == "items":
            given[item.name] = SAMPLES["tuple[OpenItem, ...]"]
        elif hint is Consequence:
            given[item.name] = SAMPLES["Consequence"]
        elif hint == open_items.OpenItem:
            given[item.name] = SAMPLES["OpenItem"]
        elif hint == Ground:
            given[item.name] = NoValue("wrist")
        else:
            given[item.name] = hints.SayDigits("wrist, then ")
    return kind(**given)


@pytest.mark.parametrize("expert", [False, True])
def test_every_sentence_can_be_said(expert):
    wording = Wording(expert=expert)
    for one in [*Fixed, *HoldAction, *(sample(kind) for kind in spoken())]:
        said = wording.sentence(one)
        assert said.strip(), one
        assert "{" not in said
        assert "None" not in said
    for kind in types_of(hints, HintWith):
        assert wording.hint(sample(kind)).startswith("say") or kind.__name__.startswith("Part"), kind
    for kind in types_of(refusals, reasons.Reason):
        assert wording.refusal(sample(kind)), kind
    for kind in get_args(Ground):
        assert wording.reason(sample(kind)), kind
    for kind in types_of(open_items, reasons.Reason):
        assert wording.open_item(sample(kind)), kind


def strings_of(path):
    """Text constants of a module that could be said: no docstrings, nothing that is raised."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise | ast.Expr):
            skipped |= (
                {id(inner) for inner in ast.walk(node) if isinstance(inner, ast.Constant | ast.JoinedStr)}
                if (isinstance(node, ast.Raise) or isinstance(node.value, ast.Constant))
                else set()
            )
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            yield node.lineno, node.value


def test_no_sentence_stands_elsewhere_in_the_core():
    found = []
    for part in CORE:
        place = PACKAGE / part
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            found += [f"{path.name}:{line}: {text}" for line, text in strings_of(path) if A_SENTENCE.search(text)]
    assert not found


def test_the_scan_would_find_a_sentence(tmp_path):
    path = tmp_path / "one.py"
    path.write_text('"""Doc."""\ndef f():\n    """Say it."""\n    return "Light off first."\n')
    assert [text for _, text in strings_of(path) if A_SENTENCE.search(text)] == ["Light off first."]


def test_a_file_reaches_the_tools_own_sentences(tmp_path):
    own = 'sentences: {fixed.waiting: "On hold. Say resume.", sentence.still_missing: "I still need {labels:and}."}\n'
    talk = Talk(load_bundle(str(write_files(tmp_path, procedure=PROCEDURE + own))))
    talk.say("wait")
    assert talk.said == "On hold. Say resume."
    wording = Wording(own={"sentence.still_missing": "I still need {labels:and}."})
    assert wording.prompt(Prompt((StillMissing(("wrist", "ring")),))) == "I still need wrist and ring."


@pytest.mark.parametrize(
    ("own", "part"),
    [
        ('sentences: {fixed.wating: "On hold."}\n', "did you mean fixed.waiting?"),
        ('sentences: {sentence.still_missing: "I need {things}."}\n', "there are: {labels}"),
        ('sentences: {sentence.still_missing: "I need {labels:loudly}."}\n', "loudly is no way to say it"),
        ('sentences: {fixed.waiting: "On {hold."}\n', "a bracket that belongs to no place"),
    ],
)
def test_a_sentence_that_does_not_fit_is_refused_with_what_would_be_right(tmp_path, own, part):
    file = str(write_files(tmp_path, procedure=PROCEDURE + own))
    with pytest.raises(ProcedureFileError, match=re.escape(part)):
        Talk(load_bundle(file))
    assert any(part in finding.text and finding.line > 1 for finding in check(file))


def test_a_patient_who_cannot_report_heat_is_not_asked():
    # Common practice, no source: what the patient cannot feel is felt by hand.
    reports, silent = GuidanceProfile(), GuidanceProfile(patient_reports_heat=False, silent_sign="Watch the fingers.")
    wording = Wording()
    assert wording.sentence(warmth(reports)).startswith("Ask the patient")
    assert "Ask the patient" in wording.prompt(late_warmth(reports))
    assert "Watch the fingers." in wording.sentence(warmth(silent))
    own = GuidanceProfile(patient_reports_heat=False)
    for words in (
        *(wording.sentence(warmth(one)) for one in (silent, own)),
        *(wording.prompt(late_warmth(one)) for one in (silent, own)),
    ):
        assert "painful" not in words
        assert "patient" not in words
        assert "ool, warm or hot?" in words


def test_whatever_is_said_tells_the_codes_of_its_sentences(talk):
    # Own rule of this project. The words of a code without arguments are those of the catalogue.
    talk.say("status")
    talk.say("light_on")
    talk.finish()
    said = [effect for effects in talk.history for effect in effects if isinstance(effect, Say)]
    named = {code_of(one) for one in spoken()} | {one.value for one in (*Fixed, *HoldAction, *Consequence)}
    assert {code for effect in said for code in effect.codes} <= named
    assert all(effect.codes for effect in said)
    fixed = {one.value for one in Fixed}
    told = [effect for effect in said if fixed.issuperset(effect.codes)]
    assert {code for effect in told for code in effect.codes} >= {"light_off", "half"}
    for effect in told:
        assert effect.text == " ".join(catalogue()[f"fixed.{code}"] for code in effect.codes)
