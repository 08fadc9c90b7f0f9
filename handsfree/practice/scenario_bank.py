"""What the generator of scenarios draws from: data with words. `scenario_bank.yaml` comes with the program."""

from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from handsfree.definition.form import Identifier, Spoken, Strict
from handsfree.definition.source_lines import read_source, validate
from handsfree.errors import ProcedureFileError, ScriptError
from handsfree.practice.event_kinds import Limit, Seconds, Settlement, bundled_kinds
from handsfree.simulation.script import NoiseSpec

OWN_BANK = Path(str(files("handsfree").joinpath("practice", "scenario_bank.yaml")))


class BankFinding(Strict):
    """Something to be found.

    Attributes:
        kind: A kind of event.
        place: "step.field" of a procedure that has it.
        own_side: Whether the step is done for each side, and it is found on the treated one.
        value: What is found; "$other" is the other side than the true one.
        remedy: What is so once it was put right; "$true" is the true side. None: nothing can be put right.
        say: How the instructor tells it.
        settle: How the hold that follows is settled; None: as the kind says.
        senior: Whether a senior must agree before the work goes on.
    """

    kind: Identifier
    place: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$")]
    own_side: bool = False
    value: str
    remedy: str | None = None
    say: Spoken
    settle: Settlement | None = None
    senior: bool = False

    @property
    def step(self) -> str:
        """The step of the place."""
        return self.place.partition(".")[0]

    @property
    def field(self) -> str:
        """The field of the place."""
        return self.place.partition(".")[2]


class BankHappening(Strict):
    """Something that happens around the work, or under the light. What it leaves out is as its kind says."""

    kind: Identifier
    who: Identifier | None = None
    say: Spoken | None = None
    noise: NoiseSpec | None = None
    noise_s: Seconds | None = None
    within_s: Limit | None = None


class Bank(Strict):
    """A bank.

    Attributes:
        form: Version of this form.
        findings: Findings.
        happenings: Things that happen at a step without light.
        lit: Things that happen while the light is on.
    """

    form: Literal[1]
    findings: tuple[BankFinding, ...]
    happenings: Annotated[tuple[BankHappening, ...], Field(min_length=1)]
    lit: tuple[BankHappening, ...]


def load_bank(path: Path = OWN_BANK) -> Bank:
    """Read a bank.

    Raises:
        ScriptError: The file cannot be read or has faults; each on a line of its own, as file:line: path: text.
    """
    try:
        source = read_source(path)
    except ProcedureFileError as error:
        raise ScriptError(str(error).replace("(a procedure is", "(a bank is")) from error
    bank = validate(source, Bank)
    if bank is not None:
        for key, kinds in (
            ("findings", [one.kind for one in bank.findings]),
            ("happenings", [one.kind for one in bank.happenings]),
            ("lit", [one.kind for one in bank.lit]),
        ):
            for index, kind in enumerate(kinds):
                if kind not in bundled_kinds():
                    source.fault((key, index, "kind"), f"there is no kind {kind}")
    if bank is None or source.faults:
        raise ScriptError("\n".join(source.described_faults()))
    return bank
