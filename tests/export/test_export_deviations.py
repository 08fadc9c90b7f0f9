"""What did not go as the procedure says is in every export for a chart, as the summary and the page have it.

Expected behaviour: the law of this project that nothing closes quietly (DEVELOPERS.md); common practice, no source. The
form of a note: HL7 FHIR R4 4.0.1, Annotation (hl7.org/fhir/R4/datatypes.html#Annotation), from memory.
"""

import json

from export_samples import closing, heard, resources, write

from handsfree.application.words_for_export import export_words
from handsfree.export.choose import ExportForm, export
from handsfree.model.facts import HoldSet, StopWordHeard, StrayLightBegan, VisitEndedEarly
from handsfree.model.open_items import OpenHold, OpenLightOff
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.model.refusals import Refusal, RefusalCode


def test_what_stopped_a_visit_and_was_left_open_is_noted_at_the_procedure(tmp_path):
    hot = HeatWordSaid("hot")
    told = (
        StopWordHeard(word="hot", while_lit=True, mode="lit", heard=heard("hot")),
        HoldSet(hold="red", stage="cure_open", grounds=Grounds(hot)),
        StrayLightBegan(at_s=3.0, stage="cure_open", why=Refusal(RefusalCode.HELD), heard=heard("light on")),
        VisitEndedEarly(stage="cure_open", role="surgeon", reason="reviewed", code=None, heard=heard()),
    )
    left = (OpenLightOff(), OpenHold(Grounds(hot)))
    folder = write(tmp_path / "r", *told, end=closing(outcome="stopped", open_items=left))
    (procedure,) = resources(
        json.loads(export(folder, ExportForm.FHIR, export_words, allow_practice=False)), "Procedure"
    )
    assert procedure["status"] == "stopped"
    assert [item["text"] for item in procedure["note"]] == [
        "Deviation: stop word hot in the light",
        "Deviation: red flag at cure open: the word hot was said. Told: Light off. Lift it away. Look at the skin.",
        "Deviation: visit ended early at cure open by surgeon: reviewed",
        "Light: light outside a zone at cure open: nobody said when it went off",
        "Left open: light off was not confirmed; held: the word hot was said",
    ]
