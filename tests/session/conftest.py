"""One session of the small procedure of `procedure_files`, and one that is narrated of the bundled fitting."""

import pytest
from narrating import sides_checked
from procedure_files import write_files
from talking import Talk

from handsfree.definition.loader import load_bundle


@pytest.fixture(scope="session")
def bundle(tmp_path_factory):
    return load_bundle(str(write_files(tmp_path_factory.mktemp("files"))))


@pytest.fixture
def talk(bundle):
    return Talk(bundle)


@pytest.fixture(scope="session")
def fitting():
    return load_bundle("ulnar-splint-fitting")


@pytest.fixture
def narrator(fitting):
    return sides_checked(fitting)
