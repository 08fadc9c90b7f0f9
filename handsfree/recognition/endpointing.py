"""Finding speech in a stream: where an utterance begins and ends, with the sound around it that recognition needs."""

from array import array
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import ceil, log10, sqrt

from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.recognition.background_level import BackgroundLevel
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.sound_beside import least_level, loud_runs, may_be_word
from handsfree.recognition.speech_detector import SpeechDetector, raised, silero

CHUNK_SAMPLES = 512
_CHUNK_BYTES = 2 * CHUNK_SAMPLES
_CHUNK_S = CHUNK_SAMPLES / SAMPLE_RATE_HZ
_JUMP_S = 0.1
"""Blocks further apart than this are not one stream: what was being said ends there."""


@dataclass(frozen=True, slots=True)
class Segment:
    """One utterance.

    Attributes:
        pcm: 16-bit mono samples at 16 kHz, with the sound just before and after.
        start_s: Session time of the first sample.
        speech_from_s: Session time at which speech began.
        speech_to_s: Session time at which it ended.
        speech_s: Seconds of it that were speech.
        signal_to_noise_db: Level of the speech over the sound before it, or None where there was none.
        longest_pause_s: Longest silence inside it.
        is_near: Whether some of it was much louder than the room, talk of others included.
        wider: The same with what lies beside it and is as loud as its speech, though it was not taken for speech; None
            where there is no such sound.
        has_word_beside: Whether that may be a word: as long as one, and hardly softer.
    """

    pcm: bytes
    start_s: float
    speech_from_s: float
    speech_to_s: float
    speech_s: float
    signal_to_noise_db: float | None
    longest_pause_s: float = 0.0
    is_near: bool = True
    wider: "Segment | None" = field(default=None, compare=False)
    has_word_beside: bool = field(default=False, compare=False)

    def followed_by(self, later: "Segment") -> "Segment":
        """Both as one utterance, with the sound kept around each for the pause between them."""
        ratios = [one for one in (self.signal_to_noise_db, later.signal_to_noise_db) if one is not None]
        twice = round((self.start_s - later.start_s) * SAMPLE_RATE_HZ) + len(self.pcm) // 2
        return Segment(
            pcm=self.pcm + later.pcm[2 * max(0, twice) :],
            start_s=self.start_s,
            speech_from_s=self.speech_from_s,
            speech_to_s=later.speech_to_s,
            speech_s=self.speech_s + later.speech_s,
            signal_to_noise_db=min(ratios, default=None),
            longest_pause_s=max(self.longest_pause_s, later.longest_pause_s, later.speech_from_s - self.speech_to_s),
            is_near=self.is_near or later.is_near,
        )

    def last(self, seconds: float) -> "Segment":
        """Its last seconds of sound; the whole where it is no longer."""
        cut = len(self.pcm) - 2 * round(seconds * SAMPLE_RATE_HZ)
        if cut <= 0:
            return self
        start_s = self.start_s + cut / 2 / SAMPLE_RATE_HZ
        later_s = max(self.speech_from_s, start_s)
        return replace(self, pcm=self.pcm[cut:], start_s=start_s, speech_from_s=later_s)


@dataclass(frozen=True, slots=True)
class _Chunk:
    pcm: bytes
    start_s: float
    level: float
    speech: float
    """Probability of speech."""
    shut: bool


@dataclass(slots=True)
class _Utterance:
    earlier: list[_Chunk]
    """What was heard before it and belongs to no other utterance."""
    chunks: list[_Chunk]
    first: int
    last: int
    noise: float | None
    speech_chunks: int
    power: float
    patience_s: float
    last_sure: int
    is_near: bool
    is_first: bool
    """Whether it began before anything was known of the room."""
    longest_pause: int = 0


class Endpointer:
    """Cuts a stream into utterances.

    Args:
        settings: When speech begins and ends.
        detector: Makes the speech detector; a test puts its own here.
    """

    def __init__(
        self, settings: EndpointSettings | None = None, detector: Callable[[], SpeechDetector] = silero
    ) -> None:
        self.settings = settings or EndpointSettings()
        self._detector = detector()
        self._before: deque[_Chunk] = deque(
            maxlen=max(1, round((self.settings.look_back_s + self.settings.pre_roll_s) / _CHUNK_S))
        )
        self._rest = b""
        self._due_s: float | None = None
        self._noise: float | None = None
        self._room = BackgroundLevel(self.settings.near_db, self.settings.far_db)
        self._utterance: _Utterance | None = None

    @property
    def speaking(self) -> bool:
        """Whether an utterance has begun and not ended."""
        return self._utterance is not None

    def reset(self) -> None:
        """Forget all sound so far."""
        self._detector.reset()
        self._before.clear()
        self._rest = b""
        self._due_s = None
        self._noise = None
        self._room = BackgroundLevel(self.settings.near_db, self.settings.far_db)
        self._utterance = None

    def accept(self, block: AudioBlock) -> list[Segment]:
        """Take a block; return the utterances that ended in it."""
        ended: list[Segment] = []
        if self._due_s is not None and abs(block.start_s - self._due_s) > _JUMP_S:
            ended += self.flush()
        self._due_s = block.end_s
        waiting = self._rest + block.pcm
        while len(waiting) >= _CHUNK_BYTES:
            # Counted back from the end of the newest block, so that a drifting sound card does not add up.
            start_s = block.end_s - len(waiting) / 2 / SAMPLE_RATE_HZ
            segment = self._take(waiting[:_CHUNK_BYTES], start_s, shut=block.shut)
            if segment is not None:
                ended.append(segment)
            waiting = waiting[_CHUNK_BYTES:]
        self._rest = waiting
        return ended

    @property
    def speech_s(self) -> float:
        """Seconds of speech in the utterance that is under way; 0 if there is none."""
        return 0.0 if self._utterance is None else self._utterance.speech_chunks * _CHUNK_S

    @property
    def speech_from_s(self) -> float | None:
        """When the speech of the utterance that is under way began, session time; None if there is none."""
        utterance = self._utterance
        return None if utterance is None else utterance.chunks[utterance.first].start_s

    @property
    def silent_s(self) -> float:
        """Seconds of silence since the last speech of the utterance that is under way; 0 if there is none."""
        return 0.0 if self._utterance is None else _silent_s(self._utterance)

    @property
    def hushed_s(self) -> float:
        """Seconds since the last speech beyond doubt of the utterance that is under way; 0 if there is none.

        At least `silent_s`: a word that dies away is over before it is silent.
        """
        utterance = self._utterance
        return 0.0 if utterance is None else (len(utterance.chunks) - 1 - utterance.last_sure) * _CHUNK_S

    @property
    def is_slow(self) -> bool:
        """Whether there was a pause between words in the utterance that is under way."""
        return self._utterance is not None and (self._utterance.longest_pause * _CHUNK_S >= self.settings.slow_pause_s)

    @property
    def sounds(self) -> bool:
        """Whether something is as loud now as the speech of the utterance under way, in what seems silence after it."""
        utterance = self._utterance
        if utterance is None or (utterance.is_near and self._room.is_far):
            return False
        least = self._least_level(utterance)
        now = utterance.chunks[self._tail(utterance) :][-_shortest(self.settings) :]
        return least is not None and any(chunk.level >= least for chunk in now)

    def forget(self, to_s: float) -> None:
        """What was heard before that session time belongs to an utterance that was reported."""
        while self._before and self._before[0].start_s < to_s:
            self._before.popleft()

    def wait(self, silence_s: float) -> None:
        """End the utterance that is under way only after so much silence, if nothing more is said meanwhile."""
        if self._utterance is not None:
            self._utterance.patience_s = silence_s

    def so_far(self) -> Segment | None:
        """The utterance that is under way, or None if there is none, or no more of it than a click."""
        return None if self._utterance is None else self._segment(self._utterance)

    def close(self) -> None:
        """End the utterance that is under way without reporting it."""
        self._finish()

    def flush(self) -> list[Segment]:
        """End the stream; return the utterance that was under way."""
        ended: list[Segment] = []
        if self._rest and self._due_s is not None:
            start_s = self._due_s - len(self._rest) / 2 / SAMPLE_RATE_HZ
            segment = self._take(self._rest.ljust(_CHUNK_BYTES, b"\0"), start_s)
            ended += [segment] if segment is not None else []
        last = self._finish()
        ended += [last] if last is not None else []
        self.reset()
        return ended

    def _take(self, pcm: bytes, start_s: float, *, shut: bool = False) -> Segment | None:
        probability = self._detector(raised(pcm))
        chunk = _Chunk(pcm, start_s, _level(pcm), probability, shut)
        if not shut:
            self._room.hear(chunk.level, is_speech=probability >= self.settings.release)
        utterance = self._utterance
        if utterance is None:
            if probability < self.settings.threshold:
                self._before.append(chunk)
                self._noise = chunk.level if self._noise is None else 0.9 * self._noise + 0.1 * chunk.level
                return None
            self._utterance = self._begun(chunk)
            return None
        utterance.chunks.append(chunk)
        if self._room.is_near and not utterance.is_near:
            self._come_near(utterance)
        if probability >= self.settings.release and not (utterance.is_near and self._room.is_far):
            here = len(utterance.chunks) - 1
            utterance.longest_pause = max(utterance.longest_pause, here - utterance.last - 1)
            utterance.patience_s = self.settings.end_silence_s
            utterance.last = here
            utterance.last_sure = here if probability >= self.settings.threshold else utterance.last_sure
            utterance.speech_chunks += 1
            utterance.power += chunk.level**2
        too_long = len(utterance.chunks) * _CHUNK_S >= self.settings.longest_s
        over_s = _silent_s(utterance) - utterance.patience_s
        is_over = over_s >= self.settings.word_s or (over_s >= 0.0 and not self.sounds)
        return self._finish() if too_long or is_over else None

    def _come_near(self, utterance: _Utterance) -> None:
        """A near voice begins in what the room says: what lies long before it is not of it."""
        utterance.is_near = True
        utterance.earlier = []
        kept = round((self.settings.pre_roll_s + self.settings.soft_gap_s) / _CHUNK_S)
        far = max(0, len(utterance.chunks) - 1 - kept)
        if far <= utterance.first:
            return
        del utterance.chunks[:far]
        spoken = [chunk for chunk in utterance.chunks if chunk.speech >= self.settings.release]
        utterance.first = 0
        utterance.last = max(0, utterance.last - far)
        utterance.last_sure = max(0, utterance.last_sure - far)
        utterance.speech_chunks = max(1, len(spoken))
        utterance.power = sum(chunk.level**2 for chunk in spoken)
        utterance.longest_pause = 0

    def _begun(self, noticed: _Chunk) -> _Utterance:
        """The utterance in which speech was noticed now, from its soft beginning on."""
        before = list(self._before)
        self._before.clear()
        begin, most = len(before), round(self.settings.soft_gap_s / _CHUNK_S)
        for place in range(len(before) - 1, -1, -1):
            if begin - place > most + 1:
                break
            if before[place].speech >= self.settings.soft:
                begin = place
        kept = max(0, begin - round(self.settings.pre_roll_s / _CHUNK_S))
        spoken = [*(chunk for chunk in before[begin:] if chunk.speech >= self.settings.soft), noticed]
        return _Utterance(
            before[:kept],
            [*before[kept:], noticed],
            first=begin - kept,
            last=len(before) - kept,
            noise=self._noise,
            speech_chunks=len(spoken),
            power=sum(chunk.level**2 for chunk in spoken),
            patience_s=self.settings.end_silence_s,
            last_sure=len(before) - kept,
            is_near=self._room.is_near,
            is_first=not self._room.is_known,
        )

    def _finish(self) -> Segment | None:
        utterance, self._utterance = self._utterance, None
        if utterance is None:
            return None
        segment = self._segment(utterance)
        # What was too short for speech may be all that was noticed of a word.
        rest = [*utterance.earlier, *utterance.chunks] if segment is None else utterance.chunks[utterance.last + 1 :]
        self._before.extend(rest)
        return segment

    def _segment(self, utterance: _Utterance) -> Segment | None:
        speech_s = utterance.speech_chunks * _CHUNK_S
        if speech_s < self.settings.least_speech_s:
            return None
        kept = utterance.chunks[: self._tail(utterance)]
        signal = _speech_level(utterance)
        ratio = 20 * log10(signal / utterance.noise) if utterance.noise and signal else None
        segment = Segment(
            pcm=b"".join(chunk.pcm for chunk in kept),
            start_s=kept[0].start_s,
            speech_from_s=utterance.chunks[utterance.first].start_s,
            speech_to_s=utterance.chunks[utterance.last].start_s + _CHUNK_S,
            speech_s=speech_s,
            signal_to_noise_db=None if ratio is None else round(ratio, 1),
            longest_pause_s=utterance.longest_pause * _CHUNK_S,
            is_near=utterance.is_near or utterance.is_first,
        )
        return self._with_beside(utterance, segment)

    def _with_beside(self, utterance: _Utterance, segment: Segment) -> Segment:
        """The segment with a wider one, where there is sound for one."""
        least = self._least_level(utterance)
        if least is None:
            return segment
        before, kept = len(utterance.earlier), self._tail(utterance)
        chunks = [*utterance.earlier, *utterance.chunks]
        levels = [chunk.level for chunk in chunks]
        early = loud_runs(levels[:before], least, _shortest(self.settings))
        late = [
            (before + kept + begin, before + kept + end)
            for begin, end in loud_runs(levels[before + kept :], least, _shortest(self.settings))
        ]
        if not early and not late:
            return segment
        first = early[0][0] if early else before + utterance.first
        last = late[-1][1] - 1 if late else before + utterance.last
        begin = max(0, first - round(self.settings.pre_roll_s / _CHUNK_S)) if early else before
        end = last + 1 + round(self.settings.tail_s / _CHUNK_S) if late else before + kept
        pauses = [before + utterance.first - early[-1][1]] if early else []
        pauses += [late[0][0] - before - utterance.last - 1] if late else []
        wider = replace(
            segment,
            pcm=b"".join(chunk.pcm for chunk in chunks[begin:end]),
            start_s=chunks[begin].start_s,
            speech_from_s=chunks[first].start_s,
            speech_to_s=chunks[last].start_s + _CHUNK_S,
            speech_s=segment.speech_s + _CHUNK_S * sum(to - start for start, to in [*early, *late]),
            longest_pause_s=max(segment.longest_pause_s, *(_CHUNK_S * pause for pause in pauses)),
        )
        speech = _speech_level(utterance)
        has_word = any(may_be_word(levels[start:to], speech) for start, to in [*early, *late])
        return replace(segment, wider=wider, has_word_beside=has_word)

    def _tail(self, utterance: _Utterance) -> int:
        """How many of its chunks are kept."""
        return utterance.last + 1 + round(self.settings.tail_s / _CHUNK_S)

    @staticmethod
    def _least_level(utterance: _Utterance) -> float | None:
        around = [chunk.level for chunk in [*utterance.earlier, *utterance.chunks] if not chunk.shut]
        return least_level(around, _speech_level(utterance))


def _shortest(settings: EndpointSettings) -> int:
    """Chunks of sound that are more than a click."""
    return ceil(settings.least_speech_s / _CHUNK_S)


def _speech_level(utterance: _Utterance) -> float:
    return sqrt(utterance.power / utterance.speech_chunks)


def _silent_s(utterance: _Utterance) -> float:
    return (len(utterance.chunks) - 1 - utterance.last) * _CHUNK_S


def chunk_levels(pcm: bytes) -> list[float]:
    """Root mean square of each whole chunk of the samples, in steps of the 16-bit scale."""
    whole = len(pcm) - len(pcm) % _CHUNK_BYTES
    return [_level(pcm[at : at + _CHUNK_BYTES]) for at in range(0, whole, _CHUNK_BYTES)]


def _level(pcm: bytes) -> float:
    """Root mean square of the samples, in steps of the 16-bit scale."""
    samples = array("h", pcm)
    return sqrt(sum(sample * sample for sample in samples) / len(samples))
