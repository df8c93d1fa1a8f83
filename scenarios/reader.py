"""From bytes to a raw table: everything that the standard TOML reader may throw, in one line each."""

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from scenarios.errors import Report, RigError
from scenarios.lines import Place, key_lines

LARGEST: Final = 256 * 1024  # bytes; a rig file is a page or two


def read_text(path: Path) -> str:
    """Return the text of a rig file.

    Raises ``RigError`` for a file that is missing, too large or not UTF-8.
    """
    try:
        raw = path.read_bytes() if path.stat().st_size <= LARGEST else None
    except OSError as error:
        raise RigError([f"{path}  cannot be read: {error.strerror}"]) from None
    if raw is None:
        raise RigError([f"{path}  is larger than {LARGEST // 1024} kB; a rig file is a page or two"])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RigError([f"{path}:{line}  found bytes that are not UTF-8; save the file as UTF-8 text"]) from None


def parse(text: str, file: str, changes: Sequence[str] = ()) -> tuple[dict[str, Any], Report]:
    """Return the raw table of a rig with ``--set`` changes made, and a report that knows its lines.

    Raises ``RigError`` when the text is no TOML.
    """
    if "\r" in text.replace("\r\n", "\n"):
        raise RigError([f"{file}:1  found lone carriage returns as line ends; save the file with LF or CRLF"])
    raw = _toml(text.replace("\r\n", "\n"), file)
    report = Report(file, key_lines(text.replace("\r\n", "\n")), {})
    origins: dict[Place, str] = {}
    for change in changes:
        place, value = _change(change)
        origins[place] = change
        _put(raw, place, value, change)
    report.changes = origins
    return raw, report


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        match = re.search(r"\(at line (\d+), column \d+\)", str(error))
        line = int(match.group(1)) if match else text.count("\n") + 1
        raise RigError([f"{file}:{line}  {_toml_fault(text, line, str(error))}"]) from None
    except RecursionError:
        raise RigError([f"{file}  is nested too deeply; a rig has two or three levels"]) from None
    except ValueError as error:
        raise RigError([f"{file}  cannot be read as TOML: {error}"]) from None


def _toml_fault(text: str, line: int, message: str) -> str:
    lines = text.splitlines()
    source = lines[line - 1] if line <= len(lines) else ""
    comma = re.search(r"=\s*([+-]?\d+),(\d+)\s*(?:#.*)?$", source)
    if comma:
        return f"found {comma.group(1)},{comma.group(2)}, a decimal comma; write {comma.group(1)}.{comma.group(2)}"
    what = re.sub(r" \(at .*\)", "", message)
    return f"is no TOML: {what[:1].lower() + what[1:]}; found: {source.strip()[:60]}"


def _change(change: str) -> tuple[Place, Any]:
    key, equals, value = change.partition("=")
    if not equals or not key.strip() or not value.strip():
        raise RigError([f"--set {change}  is no KEY=VALUE, such as motor.travel_deg=270"])
    try:
        return tuple(part.strip() for part in key.split(".")), tomllib.loads(f"x = {value}")["x"]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return tuple(part.strip() for part in key.split(".")), value.strip()


def _put(raw: dict[str, Any], place: Place, value: Any, change: str) -> None:
    table: Any = raw
    for part in place[:-1]:
        table = table.setdefault(part, {})
        if not isinstance(table, dict):
            raise RigError([f"--set {change}  {part} is a value and has no keys of its own"])
    table[place[-1]] = value
