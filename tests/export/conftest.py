import json
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from export_samples import everything, exported

from handsfree.export.choose import ExportForm

for _folder in ("golden", "record"):
    sys.path.insert(0, str(Path(__file__).parents[1] / _folder))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return everything(tmp_path_factory.mktemp("export") / "r")


@pytest.fixture(scope="module")
def bundle(folder):
    return json.loads(exported(folder, ExportForm.FHIR), parse_float=Decimal)
