import json
from decimal import Decimal

import pytest
from export_samples import everything, exported

from handsfree.export.choose import ExportForm


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return everything(tmp_path_factory.mktemp("export") / "r")


@pytest.fixture(scope="module")
def bundle(folder):
    return json.loads(exported(folder, ExportForm.FHIR), parse_float=Decimal)
