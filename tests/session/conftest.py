"""One session of the small procedure of `procedure_files`."""

import pytest
from procedure_files import write_files
from talking import Talk

from handsfree.definition.loader import load_bundle


@pytest.fixture(scope="module")
def bundle(tmp_path_factory):
    return load_bundle(str(write_files(tmp_path_factory.mktemp("files"))))


@pytest.fixture
def talk(bundle):
    return Talk(bundle)
