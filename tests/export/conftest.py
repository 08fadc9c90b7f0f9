import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "record"))

import json
import sys
from decimal import Decimal

import pytest
from export_samples import everything

from handsfree.export.choose import ExportForm, export


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return everything(tmp_path_factory.mktemp("export") / "r")


@pytest.fixture(scope="module")
def bundle(folder):
    return json.loads(export(folder, ExportForm.FHIR), parse_float=Decimal)
