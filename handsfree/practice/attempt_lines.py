"""The file form of the store of attempts: what each kind of line holds."""

from enum import StrEnum

from handsfree.definition.form import Strict

SCORED = "attempt_scored"
RATED = "attempt_rated"
SIGNED = "assessor_signed"


class AttemptOutcome(StrEnum):
    """What an assessor signs. A person's judgement; nothing here computes it."""

    MORE_PRACTICE = "more_practice"
    SUPERVISED = "supervised"
    INDEPENDENT = "independent"


class AttemptScored(Strict):
    """What the store keeps of an attempt.

    Attributes:
        trainee: Reference of the learner.
        scenario: Identifier of the scenario.
        version: Its version.
        procedure: Identifier of the procedure.
        record_id: Identifier of the record.
        head: SHA-256 of its last line.
        passed: Whether the attempt passed.
        points: Points got.
        possible: Points that there were.
        percent: The one of the other, in per cent with one decimal.
        rules: Name of the rule of each critical error.
        table: Name and version of the table of points.
        scripted: Kind of scripted learner, or None for a person.
        practised_at: When the session began, RFC 3339 UTC; None in lines of version 0.1.0.
        difficulty: How hard the scenario is, or None where nobody has said.
        setting: What was set beside the scenario, in words; "" for nothing.
        family: What the scenario is of the kind of, or None: then it is like itself alone.
    """

    trainee: str
    scenario: str
    version: str
    procedure: str
    record_id: str
    head: str
    passed: bool
    points: int
    possible: int
    percent: float
    rules: tuple[str, ...]
    table: str
    scripted: str | None
    practised_at: str | None = None
    difficulty: str | None = None
    family: str | None = None
    setting: str = ""


class AttemptRated(Strict):
    """What the store keeps of a rating.

    Attributes:
        attempt: Line of the attempt, from 0.
        rater: Reference of the rater.
        marks: Item to mark.
        passed: The rater's judgement of the session as a whole.
    """

    attempt: int
    rater: str
    marks: dict[str, int]
    passed: bool


class AssessorSigned(Strict):
    """What the store keeps of a signature.

    Attributes:
        trainee: About whom.
        assessor: Reference of the assessor.
        role: Role of the assessor.
        outcome: The judgement.
        attempts: How many attempts there were then.
        public_key: Key of this installation, Ed25519, hexadecimal.
        signature: Over the line without it, hexadecimal.
    """

    trainee: str
    assessor: str
    role: str
    outcome: AttemptOutcome
    attempts: int
    public_key: str
    signature: str
