"""The file form of a rehearsal: who says what, when, in which voice and in how much noise."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from handsfree.definition.source_lines import read_source, validate
from handsfree.errors import ProcedureFileError, ScriptError


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class VoiceSpec(_Strict):
    """A voice of a scripted person.

    Attributes:
        engine: "espeak-ng", "flite", "festival" or "neural".
        voice: The engine's own voice name; empty for its only one.
        rate: Speed relative to the engine's own, 0.5 … 2.
    """

    engine: Literal["espeak-ng", "flite", "festival", "neural"]
    voice: str = ""
    rate: Annotated[float, Field(ge=0.5, le=2.0)] = 1.0


class NoiseSpec(_Strict):
    """Background noise.

    Attributes:
        kind: Spectrum.
        snr_db: Level of the speech over the noise, dB.
    """

    kind: Literal["white", "pink", "babble"] = "pink"
    snr_db: Annotated[float, Field(ge=-10, le=80)] = 30.0


class LampSpec(_Strict):
    """A lamp that makes sounds by itself. It is switched on with the words "light on", off with a word that ends it.

    Attributes:
        frequency_hz: Pitch of a beep.
        duration_s: Length of a beep.
        every_s: Seconds from beep to beep while it is lit, or None.
        at_end: Whether it beeps as it goes off.
        on_for_s: Seconds after which it goes off by itself, or None.
        late_off_s: Seconds from the word to the hand.
        level: Amplitude at the microphone, of full scale.
    """

    frequency_hz: Annotated[float, Field(ge=100, le=7000)]
    duration_s: Annotated[float, Field(ge=0.05, le=2)] = 0.2
    every_s: Annotated[float, Field(ge=0.5)] | None = None
    at_end: bool = False
    on_for_s: Annotated[float, Field(gt=0)] | None = None
    late_off_s: Annotated[float, Field(ge=0)] = 0.0
    level: Annotated[float, Field(gt=0, le=1)] = 0.05


class ScriptLine(_Strict):
    """One thing that a person says.

    Attributes:
        after: Step whose prompt must have been heard ("step" or "step@left"); in a narrated visit "in" and the phase in
            which it is said ("in before").
        who: A name in `voices`.
        say: The words. Where they begin with "affirmative," or "correction," they answer a read-back and go on; a
            correction does so where `means` of the line before says nothing of what is read back, and else comes after
            "affirmative".
        means: What the read-back must hold, "step.field" to value (in a narrated visit "step@left.field" of a side); on
            any other the person says "negative" and repeats.
        wait_s: Seconds to wait before speaking, from the end of the prompt.
        hears: Words of the tool to wait for before speaking ("Light off"), whatever the step asks; at most 120 s longer
            than the timers of the visit run.
    """

    after: str
    who: str
    say: str
    means: dict[str, str] = Field(default_factory=dict)
    wait_s: Annotated[float, Field(ge=0, le=600)] = 0.4
    hears: str | None = None


class Script(_Strict):
    """A rehearsal script.

    Attributes:
        scenario: Version of this form.
        title: What happens, in one line.
        procedure: Bundled identifier of the procedure, or its file: beside this one, or a path.
        seed: Seed of the noise.
        working: Who leads when the visit begins.
        voices: The people.
        tool_voice: The tool's own voice, "neural" or "system"; another one than the people's.
        noise: The room.
        lamp: A lamp that beeps, or None for a silent one.
        lines: What is said, in order.
        whenever: Answers to questions that come when they come, such as the late one about heat.
    """

    scenario: Literal[1]
    title: str
    procedure: str
    seed: int = 0
    working: Literal["guided", "narrated"] = "guided"
    voices: dict[str, VoiceSpec]
    tool_voice: Literal["neural", "system"] | None = None
    noise: NoiseSpec | None = None
    lamp: LampSpec | None = None
    lines: Annotated[tuple[ScriptLine, ...], Field(min_length=1)]
    whenever: tuple[ScriptLine, ...] = ()


def load_script(path: Path) -> Script:
    """Read a script.

    Raises:
        ScriptError: The file is missing or has faults; every fault on a line of its own, as file:line: path: text.
    """
    try:
        source = read_source(path)
    except ProcedureFileError as error:
        raise ScriptError(str(error).replace("(a procedure is", "(a script is")) from error
    script = validate(source, Script)
    if script is None or source.faults:
        raise ScriptError("\n".join(source.described_faults()))
    unknown = sorted({line.who for line in (*script.lines, *script.whenever)} - set(script.voices))
    if unknown:
        raise ScriptError(f"{path}: lines name people without a voice: {', '.join(unknown)} (add them under voices)")
    return script
