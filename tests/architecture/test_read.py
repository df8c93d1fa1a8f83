"""No key of a rig file is read by no one: every parameter of every component is used beside its definition."""

import ast
import re

import pytest

from tests.architecture.source import files
from tests.architecture.test_documents import components

TEXT = "\n".join(path.read_text("utf-8") for path in files())
PARAMETERS = [
    (name, node.target.id)
    for name, tree in components()
    for node in tree.body
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    if "ClassVar" not in ast.unparse(node.annotation)
]


@pytest.mark.parametrize(("kind", "parameter"), PARAMETERS)
def test_every_parameter_is_read(kind: str, parameter: str) -> None:
    assert re.search(rf"""\.{parameter}\b|(\[|\.get\(|\.value\()"{parameter}"[\],]""", TEXT), (
        f"{kind}.{parameter} is read nowhere"
    )
