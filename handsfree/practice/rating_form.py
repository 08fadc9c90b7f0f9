"""The rating form, filled like any procedure: by voice or typed."""

from pathlib import Path

from handsfree.application.run_visit import VisitOptions, hold_visit
from handsfree.application.sources import Source
from handsfree.practice.rating import FORM, Marks, marks_in
from handsfree.report.record_page import readable


def ask_marks(folder: Path, source: Source) -> Marks:
    """Ask for the seven marks and the judgement.

    Args:
        folder: New folder for the record of the form.
        source: Where the rater's words come from.

    Raises:
        HandsfreeError: Something is missing, the record cannot be written, or the form was not filled.
    """
    hold_visit(VisitOptions(procedure=str(FORM), folder=folder, practice=True), source)
    return marks_in(readable(folder)[1])
