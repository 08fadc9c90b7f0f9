"""`handsfree scenario`: what can be practised, kinds of events, and new scenarios that nobody knows by heart."""

import secrets
from io import StringIO
from pathlib import Path

import click
from ruamel.yaml import YAML

from handsfree.application.output_files import write_output
from handsfree.definition.loader import load_bundle
from handsfree.options import PATH
from handsfree.practice.event_kinds import bundled_kinds
from handsfree.practice.scenario import Difficulty
from handsfree.practice.scenario_bank import OWN_BANK, load_bank
from handsfree.practice.scenario_generator import generated
from handsfree.practice.scenario_loader import bundled_scenarios, load_scenario
from handsfree.practice.trainer_sheet import sheet_lines

MOST_SEEDS = 1_000_000
_HEAD = (
    "# Drawn by handsfree scenario new; the same seed draws it again. Invented people, invented readings, nobody has\n"
    "# approved this for teaching.\n"
)


@click.group()
def scenario() -> None:
    """What can be practised: bundled scenarios, kinds of events, and new ones drawn by a seed."""


@scenario.command("list")
def list_scenarios() -> None:
    """The bundled scenarios with their procedure and difficulty."""
    for name in bundled_scenarios():
        found = load_scenario(name).scenario
        hard = found.difficulty.value if found.difficulty is not None else "difficulty not said"
        click.echo(f"{name}: {found.procedure}, {hard}. {found.title}")


@scenario.command("kinds")
def kinds() -> None:
    """Kinds of events that a scenario may use, with what is right, how soon, and what it is worth."""
    for name, kind in bundled_kinds().items():
        right = " or ".join(action.value.replace("_", " ") for action in kind.answer)
        hard = "; missing it fails the attempt" if kind.hard else ""
        click.echo(f"{name}: {right} within {kind.within_s:g} s, {kind.worth} points{hard}. {kind.why} [{kind.source}]")


@scenario.command("check")
@click.argument("file")
def check(file: str) -> None:
    """Read a scenario FILE with its procedure, and name every fault with its line."""
    found = load_scenario(file).scenario
    click.echo(f"{file}: no faults; {len(found.events)} events, {len(found.case)} values of the case")


@scenario.command("sheet")
@click.argument("file")
def sheet(file: str) -> None:
    """What a trainer lays out for a scenario, bundled or a FILE: what is true, what happens when, keys of the cues."""
    click.echo("\n".join(sheet_lines(load_scenario(file))))


@scenario.command("new")
@click.argument("procedure")
@click.option("--difficulty", type=click.Choice([one.value for one in Difficulty]), required=True)
@click.option("--seed", type=click.IntRange(0, MOST_SEEDS), help="Draws the same again; any other where left out.")
@click.option("--bank", type=PATH, default=OWN_BANK, help="What may happen; the bundled bank else.")
@click.option("--output", type=PATH, required=True, help="File to write.")
def new(procedure: str, difficulty: str, seed: int | None, bank: Path, output: Path) -> None:
    """Draw a new scenario for PROCEDURE, so that nobody can learn one by heart.

    Drawn are the side, codes, measures, what is found and where, and who interrupts. Attempts at scenarios of one
    procedure and difficulty share a curve.
    """
    chosen = secrets.randbelow(MOST_SEEDS) if seed is None else seed
    data = generated(procedure, load_bundle(procedure), Difficulty(difficulty), chosen, load_bank(bank))
    text = StringIO()
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.sort_base_mapping_type_on_output = False  # type: ignore[assignment]  # the order of the form
    yaml.dump(data, text)
    write_output(output, _HEAD + text.getvalue())
    load_scenario(str(output))
    click.echo(f"{output}: {data['title']}; practise with: handsfree practice {procedure} --scenario {output}")
