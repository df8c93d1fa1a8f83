"""Which line of a TOML text each key stands on; the standard reader does not keep it."""

import json
import re
from bisect import bisect_right

Place = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)


def key_lines(text: str) -> dict[Place, int]:
    """Return the line, from 1, of every table and key of a valid TOML text, by its path.

    Elements of arrays, and tables in arrays of tables, have their index from 0 in the path.
    """
    return _Scanner(text).scan()


class _Scanner:
    def __init__(self, text: str) -> None:
        self._text, self._at = text, 0
        self._ends = [match.start() for match in re.finditer("\n", text)]
        self._lines: dict[Place, int] = {}
        self._arrays: dict[Place, int] = {}

    def scan(self) -> dict[Place, int]:
        table: Place = ()
        while self._skip(_BLANK) < len(self._text):
            if self._peek() == "[":
                table = self._header()
            else:
                self._pair(table)
        return self._lines

    def _peek(self) -> str:
        return self._text[self._at : self._at + 1]

    def _skip(self, pattern: re.Pattern[str]) -> int:
        match = pattern.match(self._text, self._at)
        self._at = match.end() if match else self._at
        return self._at

    def _note(self, place: Place) -> None:
        for end in range(1, len(place) + 1):
            self._lines.setdefault(place[:end], bisect_right(self._ends, self._at - 1) + 1)

    def _header(self) -> Place:
        double = self._text.startswith("[[", self._at)
        self._at += 1 + double
        place = self._through_arrays(self._key(), double)
        self._note(place)
        self._at += 1 + double
        return place

    def _through_arrays(self, key: list[str], double: bool) -> Place:
        place: Place = ()
        for number, part in enumerate(key):
            place = (*place, part)
            if double and number == len(key) - 1:
                self._arrays[place] = self._arrays.get(place, -1) + 1
            if place in self._arrays:
                place = (*place, self._arrays[place])
        return place

    def _pair(self, table: Place) -> None:
        start = self._at
        place = (*table, *self._key())
        self._at, after = start, self._at
        self._note(place)
        self._at = after + 1  # the equals sign
        self._value(place)

    def _key(self) -> list[str]:
        parts = []
        while True:
            self._skip(re.compile(r"[ \t]*"))
            parts.append(self._key_part())
            self._skip(re.compile(r"[ \t]*"))
            if self._peek() != ".":
                return parts
            self._at += 1

    def _key_part(self) -> str:
        start = self._at
        if self._peek() not in "\"'":
            self._skip(_BARE)
            return self._text[start : self._at]
        self._string()
        raw = self._text[start : self._at]
        return raw[1:-1] if raw[0] == "'" else _unescaped(raw)

    def _string(self) -> None:
        for pattern in _STRINGS:
            if pattern.match(self._text, self._at):
                self._skip(pattern)
                return

    def _value(self, place: Place) -> None:
        self._skip(re.compile(r"[ \t]*"))
        if self._peek() == "[":
            self._array(place)
        elif self._peek() == "{":
            self._inline(place)
        elif self._peek() in ('"', "'"):
            self._string()
        else:
            self._skip(_SCALAR)

    def _array(self, place: Place) -> None:
        self._at += 1
        number = 0
        while self._skip(_BLANK) < len(self._text) and self._peek() != "]":
            self._note((*place, number))
            self._value((*place, number))
            number += 1
            self._skip(_BLANK)
            if self._peek() == ",":
                self._at += 1
        self._at += 1

    def _inline(self, place: Place) -> None:
        self._at += 1
        while self._skip(_BLANK) < len(self._text) and self._peek() != "}":
            self._pair(place)
            self._skip(_BLANK)
            if self._peek() == ",":
                self._at += 1
        self._at += 1


def _unescaped(raw: str) -> str:
    long = re.sub(r"\\U([0-9A-Fa-f]{8})", lambda match: chr(int(match.group(1), 16)), raw)
    return str(json.loads(long, strict=False))
