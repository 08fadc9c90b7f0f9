"""Weights: whole and checked, or not there. Digests are compared with those of `hashlib`, computed here."""

import hashlib
import tomllib
import urllib.error
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.cli import main
from handsfree.errors import ModelError
from handsfree.recognition import download, models
from handsfree.recognition.manifest import Archive, Model, ModelFile, Wheel, load_manifest
from handsfree.recognition.models import ModelStore

WEIGHTS = {"first.bin": b"first" * 1000, "second.bin": b"second" * 1000}


def listed(name: str, content: bytes) -> ModelFile:
    return ModelFile(name, len(content), hashlib.sha256(content).hexdigest(), f"parcel/{name}")


def neural() -> Model:
    entries = tuple(listed(name, content) for name, content in WEIGHTS.items())
    return Model("toy", "neural", "en-US", "MIT", "a toy", Wheel("toy==1", "any"), entries, default=True)


def wheel(path: Path, contents: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in contents.items():
            archive.writestr(f"parcel/{name}", content)
        archive.writestr("parcel/unwanted.so", b"code")
    return path


def archived(path: Path, top: str = "toy-vosk") -> tuple[Path, Model]:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(f"{top}/", b"")
        archive.writestr(f"{top}/conf/settings", b"fast")
    content = path.read_bytes()
    source = Archive("https://example.org/toy.zip", len(content), hashlib.sha256(content).hexdigest(), "toy-vosk")
    return path, Model("toy-vosk", "vosk", "en-US", "Apache-2.0", "a toy", source, (), default=False)


@pytest.fixture
def store(tmp_path: Path) -> ModelStore:
    return ModelStore((neural(),), tmp_path / "models")


def nothing_left(store: ModelStore) -> bool:
    return not store.folder.exists() or list(store.folder.iterdir()) == []


def test_installs_from_a_wheel_only_what_is_listed(store: ModelStore, tmp_path: Path) -> None:
    folder = store.install("toy", wheel(tmp_path / "toy.whl", WEIGHTS))
    assert {path.name for path in folder.iterdir()} == {*WEIGHTS, models.RECEIPT}
    assert {name: (folder / name).read_bytes() for name in WEIGHTS} == WEIGHTS
    assert store.locate("toy") == store.verify("toy") == folder
    assert [path.name for path in store.folder.iterdir()] == ["toy"]


def test_installs_from_a_folder(store: ModelStore, tmp_path: Path) -> None:
    source = tmp_path / "copy"
    source.mkdir()
    for name, content in WEIGHTS.items():
        (source / name).write_bytes(content)
    assert store.verify(store.install("toy", source).name)


def test_what_is_not_installed_names_the_command_that_installs_it(store: ModelStore) -> None:
    assert not store.is_installed()
    with pytest.raises(ModelError, match=r"not installed; install them with: handsfree models install$"):
        store.locate()


def test_a_model_that_is_not_the_default_is_named_in_the_command(tmp_path: Path) -> None:
    _, model = archived(tmp_path / "toy.zip")
    with pytest.raises(ModelError, match="handsfree models install toy-vosk"):
        ModelStore((model,), tmp_path / "models").locate("toy-vosk")


def test_an_unknown_model_lists_the_known_ones(store: ModelStore) -> None:
    with pytest.raises(ModelError, match=r"no model is named other \(known: toy\)"):
        store.install("other")


def test_a_wrong_digest_leaves_nothing_behind(store: ModelStore, tmp_path: Path) -> None:
    altered = {**WEIGHTS, "second.bin": b"secund" * 1000}
    with pytest.raises(ModelError, match=r"second\.bin: SHA-256 is [0-9a-f]{64}, must be"):
        store.install("toy", wheel(tmp_path / "toy.whl", altered))
    assert nothing_left(store)


def test_half_a_download_leaves_nothing_behind(store: ModelStore, tmp_path: Path) -> None:
    path = wheel(tmp_path / "toy.whl", WEIGHTS)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(ModelError, match="not a whole zip file"):
        store.install("toy", path)
    assert nothing_left(store)


def test_a_missing_member_and_a_missing_parcel_are_named(store: ModelStore, tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"holds no parcel/second\.bin"):
        store.install("toy", wheel(tmp_path / "toy.whl", {"first.bin": WEIGHTS["first.bin"]}))
    with pytest.raises(ModelError, match=r"none\.whl: no such file or folder"):
        store.install("toy", tmp_path / "none.whl")
    assert nothing_left(store)


def test_a_failed_installation_keeps_the_earlier_one(store: ModelStore, tmp_path: Path) -> None:
    store.install("toy", wheel(tmp_path / "toy.whl", WEIGHTS))
    with pytest.raises(ModelError):
        store.install("toy", wheel(tmp_path / "bad.whl", {**WEIGHTS, "first.bin": b""}))
    assert store.verify("toy")


def test_a_file_cut_short_is_noticed_and_an_altered_one_by_its_digest(store: ModelStore, tmp_path: Path) -> None:
    folder = store.install("toy", wheel(tmp_path / "toy.whl", WEIGHTS))
    content = WEIGHTS["first.bin"]
    (folder / "first.bin").write_bytes(content[:-1])
    with pytest.raises(ModelError, match=rf"missing or cut short \(must have {len(content)} bytes\)"):
        store.locate("toy")
    (folder / "first.bin").write_bytes(b"F" + content[1:])
    assert store.locate("toy") == folder
    with pytest.raises(ModelError, match="SHA-256"):
        store.verify("toy")


def test_installing_again_fetches_only_what_is_damaged(tmp_path: Path) -> None:
    fetched: list[object] = []

    def fetch(source: Wheel | Archive, into: Path) -> Path:
        fetched.append(source)
        return wheel(into / "toy.whl", WEIGHTS)

    store = ModelStore((neural(),), tmp_path / "models", fetch)
    folder = store.install()
    store.install()
    assert len(fetched) == 1
    (folder / "first.bin").write_bytes(b"x" * len(WEIGHTS["first.bin"]))
    store.install()
    assert len(fetched) == 2
    assert store.verify()


def test_an_archive_is_checked_whole_and_unpacked_without_its_top_folder(tmp_path: Path) -> None:
    path, model = archived(tmp_path / "toy.zip")
    store = ModelStore((model,), tmp_path / "models")
    folder = store.install("toy-vosk", path)
    assert (folder / "conf" / "settings").read_bytes() == b"fast"
    assert store.verify("toy-vosk") == folder
    (folder / "conf" / "settings").write_bytes(b"slow")
    with pytest.raises(ModelError, match="settings: SHA-256"):
        store.verify("toy-vosk")


def test_an_archive_cut_short_or_with_stray_files_is_refused(tmp_path: Path) -> None:
    path, model = archived(tmp_path / "toy.zip")
    store = ModelStore((model,), tmp_path / "models")
    path.write_bytes(path.read_bytes()[:-10])
    with pytest.raises(ModelError, match="half a download"):
        store.install("toy-vosk", path)
    path, stray = archived(tmp_path / "stray.zip", top="../elsewhere")
    with pytest.raises(ModelError, match="does not belong there"):
        ModelStore((stray,), tmp_path / "models").install("toy-vosk", path)
    assert nothing_left(store)


def test_no_network_is_one_clear_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise urllib.error.URLError("no route to host")

    monkeypatch.setattr(download, "urlopen", refuse)
    _, model = archived(tmp_path / "toy.zip")
    store = ModelStore((model,), tmp_path / "models")
    with pytest.raises(ModelError, match="could not be fetched") as caught:
        store.install("toy-vosk")
    assert "\n" not in str(caught.value)
    assert "--from FILE" in str(caught.value)
    assert nothing_left(store)


def test_pip_without_a_network_is_one_clear_line(monkeypatch: pytest.MonkeyPatch, store: ModelStore) -> None:
    # An index that is an empty folder: pip runs for real and finds nothing, no network is touched.
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    with pytest.raises(ModelError, match=r"^toy==1 could not be fetched \(.*No matching distribution.*\)") as caught:
        store.install("toy")
    assert "\n" not in str(caught.value)
    assert nothing_left(store)


def test_what_is_advised_comes_with_the_default_and_may_be_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    beside = replace(neural(), id="beside", source=Wheel("beside==1", "any"), default=False, advised=True)
    other = replace(neural(), id="other", source=Wheel("other==1", "any"), default=False)
    parcels = {"toy==1": wheel(tmp_path / "toy.whl", WEIGHTS), "beside==1": wheel(tmp_path / "beside.whl", WEIGHTS)}
    reached = dict(parcels)

    def fetch(source: Wheel | Archive, into: Path) -> Path:
        assert isinstance(source, Wheel)
        try:
            return reached[source.requirement]
        except KeyError:
            raise ModelError(f"{source.requirement} could not be fetched") from None

    store = ModelStore((neural(), beside, other), tmp_path / "models", fetch)
    monkeypatch.setattr(models, "_default_store", lambda: store)
    del reached["beside==1"]
    main(["models", "install"])
    assert "not installed: beside (beside==1 could not be fetched)" in capsys.readouterr().err
    assert [path.name for path in store.folder.iterdir()] == ["toy"]
    reached["beside==1"] = parcels["beside==1"]
    main(["models", "install"])
    assert capsys.readouterr().err == "installed: toy\ninstalled: beside\n"
    assert store.is_installed("beside")
    assert not store.is_installed("other")


def test_of_a_parcel_at_hand_nothing_else_is_fetched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def fetch(source: Wheel | Archive, into: Path) -> Path:
        raise AssertionError(f"{source} fetched")

    advised = replace(neural(), id="beside", default=False, advised=True)
    store = ModelStore((neural(), advised), tmp_path / "models", fetch)
    monkeypatch.setattr(models, "_default_store", lambda: store)
    parcel = wheel(tmp_path / "toy.whl", WEIGHTS)
    main(["models", "install", "--from", str(parcel)])
    assert [path.name for path in store.folder.iterdir()] == ["toy"]


def test_only_https_is_fetched(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="only https"):
        download.fetch_file("http://example.org/toy.zip", 10, tmp_path)


def test_the_environment_variable_moves_the_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(models.FOLDER_VARIABLE, str(tmp_path))
    with pytest.raises(ModelError, match="handsfree models install"):
        models.locate()


def test_the_manifest_lists_one_default_with_digests_and_licences() -> None:
    known = models.list_models()
    assert [model.default for model in known] == [True, False, False, False]
    assert [(model.id, model.engine, model.licence) for model in known] == [
        ("neural-en", "neural", "MIT"),
        ("neural-en-tuned", "neural", "MIT"),
        ("general-en", "neural", "MIT"),
        ("vosk-small-en", "vosk", "Apache-2.0"),
    ]
    assert all(len(file.sha256) == 64 and file.size > 0 for model in known for file in model.files)
    assert known[0].size_bytes == sum(file.size for file in known[0].files)
    assert known[3].origin.startswith("https://")


def test_additions_lie_beside_the_manifest_as_it_says_and_go_into_the_package() -> None:
    root = Path(models.__file__).resolve().parents[2]
    if not (root / "pyproject.toml").is_file():
        pytest.skip("no checkout")
    packed = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"]
    included = packed["wheel"]["force-include"]
    deltas = [model.delta for model in load_manifest(root / "models" / "manifest.toml") if model.delta is not None]
    assert len(deltas) == 2
    for delta in deltas:
        content = (root / "models" / delta.file).read_bytes()
        assert (len(content), hashlib.sha256(content).hexdigest()) == (delta.size, delta.sha256)
        assert included[f"models/{delta.file}"] == f"handsfree/data/models/{delta.file}"


def test_a_manifest_with_faults_is_named(tmp_path: Path) -> None:
    path = tmp_path / "manifest.toml"
    with pytest.raises(ModelError, match=r"manifest\.toml: not a manifest"):
        load_manifest(path)
    path.write_text('[[model]]\nid = "x"\n', encoding="utf-8")
    with pytest.raises(ModelError, match="not a manifest"):
        load_manifest(path)
