"""The bundled grammars of a language, and parts of what may be said by them as graphs."""

from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from handsfree.errors import GrammarError
from handsfree.understanding.graphs import compile_smallest
from handsfree.understanding.jsgf import Embedded, Expansion, Grammars, load


@lru_cache(maxsize=4)
def grammars_for(locale: str = "en-US") -> Grammars:
    """The bundled grammars of a language: of its own region, else of another one (as RFC 4647 section 3.4 looks up).

    Raises:
        GrammarError: There are none for this locale, or a file has faults.
    """
    packaged = Path(str(files("handsfree").joinpath("data", "grammars")))
    checkout = Path(str(files("handsfree"))).parent / "grammars"
    language = locale.partition("-")[0]
    for name in (locale, f"{language}-*"):
        for place in (packaged, checkout):
            for folder in sorted(place.glob(name)) if language.isalpha() else ():
                return load(folder)
    raise GrammarError(f"no grammars for the locale {locale} (en-US is bundled)")


def small(expansion: Expansion, locale: str) -> Embedded:
    """The part as a small graph: what is built in small parts stays small and quick to build."""
    return Embedded(compile_smallest(expansion, grammars_for(locale)))
