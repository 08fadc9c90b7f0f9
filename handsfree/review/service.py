"""What a reviewer may do with a record; each action only adds lines, through the same code as the command line."""

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from handsfree.application.amended_values import rules_of
from handsfree.application.replaying import contradictions
from handsfree.clock import Clock
from handsfree.definition.loader import Bundle
from handsfree.errors import RecordError, UsageError
from handsfree.model.effects import Json
from handsfree.record.amendments import AMENDABLE_MEMBERS, amend, attest, change_of
from handsfree.record.clips import Retention, read_clip
from handsfree.record.contents import Amended
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.journal import MovedOnError
from handsfree.record.signing import installation_key
from handsfree.report.embedded_sound import EmbeddedSound, Sounds, kept_clips
from handsfree.report.page import Controls, report_page, review_policy
from handsfree.report.procedure_at_hand import phrases_of, procedure_of
from handsfree.report.record_page import readable
from handsfree.review.news import PageShown, amended_before, news, shown_of
from handsfree.session.prompts.reason_words import reason_words


class NewsError(RecordError):
    """A record has moved on since a page of it was shown.

    Attributes:
        news: What is new, in words.
    """

    def __init__(self, text: str, news: tuple[str, ...]) -> None:
        super().__init__(text)
        self.news = news


@dataclass(frozen=True, slots=True)
class ShownPage:
    """The page of a record, and what it may do.

    Attributes:
        html: The page.
        policy: Its content security policy.
    """

    html: str
    policy: str


class Review:
    """One record under review. Safe to call from several threads.

    Args:
        folder: Folder of the record.
        key_file: Signing key of this installation; made when something is first added.
        clock: For the stamps of what is added.
        procedure: Procedure file, for records of a procedure that is not bundled.

    Raises:
        RecordError: There is no record, or its lines are broken.
        ProcedureFileError: The procedure file that was given has faults.
    """

    def __init__(self, folder: Path, key_file: Path, clock: Clock, procedure: Path | None = None) -> None:
        self._folder = folder
        self._key_file = key_file
        self._clock = clock
        self._lock = threading.Lock()
        self._shown: dict[str, PageShown] = {}
        _, record = readable(folder)
        self._bundle: Bundle | None = procedure_of(record, procedure)
        self._rules = rules_of(record, self._bundle)
        self._contradicted = contradictions(procedure)
        self._actions: Mapping[str, Callable[[Mapping[str, Json]], str]] = {
            "amend": self._amend,
            "verify": self._verify,
            "attest": self._attest,
        }

    @property
    def actions(self) -> frozenset[str]:
        """Names of what can be done."""
        return frozenset(self._actions)

    def page(self) -> ShownPage:
        """The page as the record stands now.

        Raises:
            RecordError: The record cannot be read any more.
        """
        with self._lock:
            found, record = readable(self._folder, self._contradicted)
            sounds = Sounds(tuple(EmbeddedSound(sha, f"clip/{sha}") for sha in kept_clips(self._folder, record)), 0)
            self._shown[found.head_hash] = shown_of(record)
        goes = record.header.retention == Retention.UNTIL_ATTESTED
        names = phrases_of(record, self._bundle).names
        left = tuple(reason_words(item, names) for item in with_declared_sides(record).open_items)
        controls = Controls(
            closed=found.fine,
            to_attest=not record.attested,
            sound_goes=goes,
            left=left,
            head=found.head_hash,
            amended=amended_before(record),
        )
        return ShownPage(report_page(found, record, self._bundle, sounds, controls), review_policy(record))

    def clip(self, sha256: str) -> bytes | None:
        """Sound of one utterance as FLAC, or None where the record keeps none with this hash.

        Raises:
            RecordError: The record or this sound cannot be read any more.
        """
        with self._lock:
            _, record = readable(self._folder)
            kept = {named for _, named in record.clips} - record.deleted_clips
            return read_clip(self._folder, sha256) if sha256 in kept else None

    def act(self, name: str, body: bytes) -> str:
        """Do something to the record.

        Args:
            name: One of `actions`.
            body: A JSON object with what the action asks for, and the head hash that the page showed.

        Returns:
            What was done, in words.

        Raises:
            NewsError: The record has moved on since the page was shown; nothing was added.
            UsageError: There is no such action, or what it asks for is missing or does not fit; nothing was added.
            RecordError: The record cannot be amended or attested; nothing was added.
        """
        action = self._actions.get(name)
        if action is None:
            raise UsageError(f"{name!r} cannot be done; these can: {', '.join(sorted(self._actions))}")
        try:
            given = json.loads(body)
        except (ValueError, RecursionError) as error:
            raise UsageError("the request is no JSON object") from error
        if not isinstance(given, dict):
            raise UsageError("the request is no JSON object")
        with self._lock:
            head = _word(given, "head")
            if not head:
                raise UsageError("an action needs the head hash that the page showed; load the page anew")
            try:
                return action(given)
            except MovedOnError as error:
                raise self._news_since(head) from error

    def _news_since(self, head: str) -> NewsError:
        _, record = readable(self._folder)
        since = self._shown.get(head)
        if since is None:
            return NewsError("this page is of another record or of an earlier review; nothing was added", ())
        return NewsError(
            "the record has moved on since this page was shown; nothing was added. New since then:",
            news(record, since),
        )

    def _amend(self, given: Mapping[str, Json]) -> str:
        entry, member = given.get("entry"), _word(given, "member")
        if type(entry) is not int or member not in AMENDABLE_MEMBERS:
            raise UsageError("an amendment needs the number of an entry and what of it is amended")
        value = _word(given, "value")
        if not value:
            raise UsageError("an amendment needs what is right")
        head = _word(given, "head")
        found, record = readable(self._folder)
        before = amended_before(record).get(entry)
        if found.head_hash == head and before is not None and given.get("again") is not True:
            raise UsageError(f"entry {entry} was amended before ({before}); say that it is amended once more")
        line = amend(
            self._folder,
            entry,
            change_of(self._folder, entry, member, value),
            by=_word(given, "by"),
            reason=_word(given, "reason"),
            clock=self._clock,
            value_fault=self._rules.value_fault,
            judge=self._rules.judge,
            shown=head,
            contradicted=self._contradicted,
            key=installation_key(self._key_file),
        )
        return f"Entry {entry} amended by entry {line}."

    def _verify(self, given: Mapping[str, Json]) -> str:
        entry = given.get("entry")
        if type(entry) is not int:
            raise UsageError("to verify a note its number is needed")
        line = amend(
            self._folder,
            entry,
            Amended(verified=True),
            by=_word(given, "by"),
            reason=_word(given, "reason"),
            clock=self._clock,
            shown=_word(given, "head"),
            contradicted=self._contradicted,
            key=installation_key(self._key_file),
        )
        return f"Note {entry} verified by entry {line}."

    def _attest(self, given: Mapping[str, Json]) -> str:
        by = _word(given, "by")
        if not by:
            raise UsageError("an attestation needs a role")
        retention = Retention.UNTIL_ATTESTED if given.get("delete_sound") is True else None  # as the record was begun
        key = installation_key(self._key_file)
        because = _word(given, "because")
        head = attest(
            self._folder,
            key,
            by=by,
            retention=retention,
            open_items_because=because,
            clock=self._clock,
            shown=_word(given, "head"),
            contradicted=self._contradicted,
        )
        return f"Attested. Head hash: {head}"


def _word(given: Mapping[str, Json], name: str) -> str:
    value = given.get(name)
    return value.strip() if isinstance(value, str) else ""
