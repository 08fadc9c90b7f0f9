"""The store of attempts: one line each, only added to, chained by hash. References, never names.

Lines have the form of those of a record (`record.record_line`). An attempt, a rating of it, and the signature of an
assessor are entries of their own.
"""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from pydantic import ValidationError

from handsfree.clock import Clock
from handsfree.definition.form import Strict
from handsfree.errors import RecordError, UsageError
from handsfree.model.effects import Json
from handsfree.practice.attempt_lines import (
    RATED,
    SCORED,
    SIGNED,
    AssessorSigned,
    AttemptOutcome,
    AttemptRated,
    AttemptScored,
)
from handsfree.practice.rating import Marks
from handsfree.practice.scoring import Score
from handsfree.record.chained_file import ChainedFile, read_chain
from handsfree.record.contents import Record
from handsfree.record.record_line import RecordLine
from handsfree.record.reference_checking import REFERENCE_PATTERN
from handsfree.record.signing import message_to_sign, public_hex, signature_is_good
from handsfree.stamps import stamp

Form = TypeVar("Form", bound=Strict)


@dataclass(frozen=True, slots=True)
class Attempt:
    """A scored attempt.

    Attributes:
        seq: Its line; what ratings refer to.
        at: When it was stored, RFC 3339 UTC.
        scored: What it came to.
    """

    seq: int
    at: str
    scored: AttemptScored

    @property
    def trainee(self) -> str:
        """Reference of the learner."""
        return self.scored.trainee

    @property
    def passed(self) -> bool:
        """Whether this attempt passed."""
        return self.scored.passed

    @property
    def practised_at(self) -> str:
        """When the session began; where an older line does not say so, when it was stored."""
        return self.scored.practised_at or self.at


@dataclass(frozen=True, slots=True)
class Rating:
    """A rating of an attempt.

    Attributes:
        attempt: Line of the attempt, from 0.
        rater: Reference of the rater.
        marks: The form.
    """

    attempt: int
    rater: str
    marks: Marks


@dataclass(frozen=True, slots=True)
class Signature:
    """What an assessor signed.

    Attributes:
        at: When, RFC 3339 UTC.
        trainee: About whom.
        assessor: Reference of the assessor.
        role: Role of the assessor.
        outcome: The judgement.
        attempts: How many attempts there were then.
        good: Whether the signature fits the line.
    """

    at: str
    trainee: str
    assessor: str
    role: str
    outcome: AttemptOutcome
    attempts: int
    good: bool


def reference(text: str, whose: str) -> str:
    """A reference of a person as given.

    Raises:
        UsageError: It may be a name.
    """
    if not REFERENCE_PATTERN.fullmatch(text):
        raise UsageError(
            f"the reference of the {whose} must be 3 to 32 capitals, digits or inner - / . with at least one digit "
            f"(L-0001), never a name"
        )
    return text


class AttemptLines:
    """Attempts, ratings and signatures as lines tell them, wherever those lie."""

    def lines(self) -> tuple[RecordLine, ...]:
        """Every entry.

        Raises:
            RecordError: They cannot be read.
        """
        raise NotImplementedError

    @property
    def place(self) -> str:
        """Where they lie, in words."""
        raise NotImplementedError

    def attempts(self, trainee: str | None = None) -> tuple[Attempt, ...]:
        """The attempts of one learner, or of all, oldest first."""
        found = [Attempt(line.seq, line.at, self._read(AttemptScored, line)) for line in self._of(SCORED)]
        return tuple(one for one in found if trainee is None or one.trainee == trainee)

    def ratings(self) -> tuple[Rating, ...]:
        """All ratings, oldest first; a later one of the same rater and attempt stands for both."""
        found: dict[tuple[int, str], Rating] = {}
        for line in self._of(RATED):
            rated = self._read(AttemptRated, line)
            found[rated.attempt, rated.rater] = Rating(rated.attempt, rated.rater, Marks(rated.marks, rated.passed))
        return tuple(found.values())

    def signatures(self, trainee: str | None = None) -> tuple[Signature, ...]:
        """What assessors signed about one learner, or about all, oldest first."""
        found = []
        for line in self._of(SIGNED):
            signed = self._read(AssessorSigned, line)
            found.append(
                Signature(
                    at=line.at,
                    trainee=signed.trainee,
                    assessor=signed.assessor,
                    role=signed.role,
                    outcome=signed.outcome,
                    attempts=signed.attempts,
                    good=signature_is_good(signed.public_key, signed.signature, message_to_sign(line)),
                )
            )
        return tuple(one for one in found if trainee is None or one.trainee == trainee)

    def _of(self, kind: str) -> tuple[RecordLine, ...]:
        return tuple(line for line in self.lines() if line.kind == kind)

    def _read(self, form: type[Form], line: RecordLine) -> Form:
        try:
            return form.model_validate_json(json.dumps(dict(line.data)))
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            raise RecordError(
                f"{self.place}:{line.seq + 1}: {line.kind} cannot be read: {where}: {first['msg']}"
            ) from error


class AttemptStore(AttemptLines):
    """A file of attempts.

    Args:
        path: The file, or a link to it; made with mode 0600 on the first entry.
        clock: For stamps.
    """

    def __init__(self, path: Path, clock: Clock) -> None:
        self._path = Path(os.path.realpath(path))
        self._clock = clock

    def lines(self) -> tuple[RecordLine, ...]:
        """Every entry.

        Raises:
            RecordError: The file cannot be read, or a line was altered, dropped or torn; names the line.
        """
        return tuple(read_chain(self._path).good)

    @property
    def place(self) -> str:
        """The file."""
        return str(self._path)

    def _append(self, kind: str, data: dict[str, Json], key: Ed25519PrivateKey | None = None) -> RecordLine:
        try:
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            file = ChainedFile.claim(self._path, create=True, wait=True)
        except OSError as error:
            raise RecordError(
                f"cannot write {self._path}: {error.strerror}; give a file in a writable folder"
            ) from error
        with file:
            file.follow(read_chain(self._path))
            line = RecordLine(file.tail.seq, file.tail.prev, stamp(self._clock.wall()), kind, data)
            if key is not None:
                signature = key.sign(message_to_sign(line)).hex()
                line = RecordLine(line.seq, line.prev, line.at, kind, data | {"signature": signature})
            file.append([line])
        return line

    def add_score(self, trainee: str, record: Record, score: Score) -> Attempt:
        """Store a score.

        Raises:
            UsageError: The reference may be a name, or the record is in the store already.
        """
        reference(trainee, "learner")
        record_id = record.header.record_id
        known = self._attempt_of(record_id)
        if known is not None:
            raise UsageError(f"record {record_id} is in {self._path} already, as attempt {known.seq}")
        scored = AttemptScored(
            trainee=trainee,
            scenario=score.planned.scenario,
            version=score.planned.version,
            procedure=record.header.procedure,
            record_id=record_id,
            head=record.head,
            passed=score.passed,
            points=score.got,
            possible=score.possible,
            percent=score.percent,
            rules=tuple(fault.rule for fault in score.faults),
            table=score.table,
            scripted=score.planned.scripted,
            practised_at=record.events[0].wall if record.events else None,
            difficulty=score.planned.difficulty.value if score.planned.difficulty is not None else None,
            family=score.planned.family,
            setting=score.planned.setting,
        )
        line = self._append(SCORED, scored.model_dump(mode="json"))
        return Attempt(line.seq, line.at, scored)

    def _attempt_of(self, record_id: str) -> Attempt | None:
        return next((one for one in self.attempts() if one.scored.record_id == record_id), None)

    def add_rating(self, record_id: str, rater: str, marks: Marks) -> Rating:
        """Store a rating of the attempt that a record holds.

        Raises:
            UsageError: The reference may be a name, or there is no such attempt.
        """
        reference(rater, "rater")
        attempt = self._attempt_of(record_id)
        if attempt is None:
            raise UsageError(f"record {record_id} is no attempt in {self._path}; practise with --trainee first")
        if rater == attempt.trainee:
            raise UsageError("a learner does not rate an attempt of their own")
        rated = AttemptRated(attempt=attempt.seq, rater=rater, marks=dict(marks.items), passed=marks.passed)
        self._append(RATED, rated.model_dump(mode="json"))
        return Rating(attempt.seq, rater, marks)

    def sign(
        self, trainee: str, assessor: str, role: str, outcome: AttemptOutcome, key: Ed25519PrivateKey
    ) -> Signature:
        """Store an assessor's judgement, signed with the key of this installation.

        Raises:
            UsageError: A reference may be a name, no role is given, there are no attempts, or it is their own.
        """
        reference(trainee, "learner")
        reference(assessor, "assessor")
        if not role.strip():
            raise UsageError("a signature needs the role of the assessor")
        if trainee == assessor:
            raise UsageError("nobody signs for themselves")
        count = len(self.attempts(trainee))
        if not count:
            raise UsageError(f"there are no attempts of {trainee} in {self._path}")
        data: dict[str, Json] = {
            "trainee": trainee,
            "assessor": assessor,
            "role": role.strip(),
            "outcome": outcome.value,
            "attempts": count,
            "public_key": public_hex(key),
        }
        self._append(SIGNED, data, key)
        return self.signatures(trainee)[-1]
