"""Bad rig files in one line each: file and line, key, what was found, what is allowed, did you mean."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

from scenarios.lines import Place


class RigError(Exception):
    """A rig that cannot be used; ``lines`` says everything that is wrong with it, a line each."""

    def __init__(self, lines: Iterable[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("\n".join(self.lines))

    def __reduce__(self) -> tuple[type, tuple[tuple[str, ...]]]:
        """Pickle with its lines."""
        return RigError, (self.lines,)


@dataclass(slots=True)
class Report:
    """Collects what is wrong with one rig."""

    file: str
    lines: Mapping[Place, int]
    changes: Mapping[Place, str]
    """By path: the ``--set`` text that brought it."""
    found: list[tuple[int, str]] = field(default_factory=list)

    def add(self, place: Place, what: str) -> None:
        """Note one fault at a path of the rig file."""
        number = self.line(place)
        self.found.append(
            (number, f"{self.where(place)}  {dotted(place)}  {what}" if place else f"{self.file}  {what}")
        )

    def line(self, place: Place) -> int:
        """Return the line of a key, of its table when it is missing, 1 when that is missing too."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)

    def where(self, place: Place) -> str:
        """Return where a value stands: the file and line, or the command line."""
        for end in range(len(place), 0, -1):
            if place[:end] in self.changes:
                return f"--set {self.changes[place[:end]]}"
        return f"{self.file}:{self.line(place)}"

    def raise_if_any(self) -> None:
        """Raise ``RigError`` with all faults in order of lines, when there are any."""
        if self.found:
            raise RigError(dict.fromkeys(text for _, text in sorted(self.found, key=lambda fault: fault[0])))


def dotted(place: Place) -> str:
    """Return a path as it would be written: ``strings.E2.gauge_mm``, ``instrument.strings[0]``."""
    text = ""
    for part in place:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def shown(value: object) -> str:
    """Return a value as TOML would write it, shortened to 40 characters."""
    text = str(value).lower() if isinstance(value, bool) else f'"{value}"' if isinstance(value, str) else str(value)
    text = "a table" if isinstance(value, dict) else text.replace("\n", " ")
    return text if len(text) <= 40 else text[:37] + "..."


def nearest(name: str, known: Iterable[str]) -> str:
    """Return ``"; did you mean ...?"`` for the nearest known name, nothing when none is near."""
    close = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def listed(names: Iterable[str]) -> str:
    """Return names separated by commas."""
    return ", ".join(names)
