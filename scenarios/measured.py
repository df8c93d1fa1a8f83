"""An ear that was measured: the file that ``[ear] file = "..."`` names, as values with their source."""

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from scenarios.errors import Report, RigError, listed, shown
from scenarios.library import Sourced
from scenarios.lines import Place
from scenarios.reader import read_text
from scenarios.values import as_value, read_number

PLACE: Final[Place] = ("ear", "file")

Measured = Mapping[str, Mapping[str, Sourced]]
"""By string: values of its ear."""


def measured_ears(folder: Path, name: Any, strings: Sequence[str], report: Report) -> Measured:
    """Return the ears of a file that ``pegloop hear --fit`` wrote; ``name`` is re the rig file's ``folder``.

    Whatever is wrong with the file is noted at the key that names it.
    """
    if not isinstance(name, str):
        report.add(PLACE, f"found {shown(name)}; allowed: the name of a file that hear --fit wrote")
        return {}
    try:
        tables = tomllib.loads(read_text(folder / name)).get("ear_by_string")
    except RigError as error:
        report.add(PLACE, error.lines[0])
        return {}
    except tomllib.TOMLDecodeError as error:
        report.add(PLACE, f"{name} is no TOML: {error}")
        return {}
    if not isinstance(tables, dict) or not all(isinstance(own, dict) for own in tables.values()):
        report.add(PLACE, f"{name} has no tables [ear_by_string.NAME]; such a file is written by hear --fit")
        return {}
    if missing := [string for string in strings if string not in tables and string != "?"]:
        report.add(PLACE, f"{name} was not measured on {listed(missing)}; it has {listed(list(tables))}")
        return {}
    return {
        string: {key: Sourced(_value(raw), f"measured, {name}") for key, raw in own.items()}
        for string, own in tables.items()
    }


def _value(raw: Any) -> Any:
    return as_value(raw) if isinstance(raw, dict) and read_number(raw) is None else raw
