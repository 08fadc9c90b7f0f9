"""The sentences by code, in one language."""

import re
import tomllib
from functools import cache
from importlib.resources import files

_PLACE = re.compile(r"\{(\w+)\}")


@cache
def _tables(language: str) -> dict[str, dict[str, str]]:
    text = files("handsfree.session.prompts").joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def words(code: str, *arguments: str) -> str:
    """A sentence of "table.code" with numbered arguments; `{all}` stands for all of them."""
    table, _, name = code.partition(".")
    given = {str(number): argument for number, argument in enumerate(arguments)} | {"all": " ".join(arguments)}
    given["argument"] = given.get("0", "")
    return _PLACE.sub(lambda found: given[found[1]], _tables("en-US")[table][name])
