"""Constants as a C header or as JSON, and the vectors as CSV."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

from sim.export.constants import Constants
from sim.export.vectors import UNITS, Vector

GUARD = "PEGLOOP_CONSTANTS_H"


def header(rig: str, sha256: str, strategy: str, strings: Sequence[Constants], caution: str) -> str:
    """Return the header: for each constant an array with one value a string, numbers of 32 bits."""
    first, size = strings[0], "[PEGLOOP_STRINGS]"
    lines = [
        f"/* {_said(strategy)} on rig {_said(rig)}: {' in '.join(first.layers)}.",
        " * Made by pegloop export; change the rig and make it anew, not this file.",
        f" * Turns of a program with other arithmetic may differ from vectors.csv by {UNITS} millidegrees.",
        " * reserve: from the target to breaking, in the worst corner of what is not known; nut friction is not in it.",
        f" * {caution} */",
        f"#ifndef {GUARD}",
        f"#define {GUARD}",
        "#include <stdint.h>",
        "",
        f'#define PEGLOOP_RIG_SHA256 "{sha256}" /* data_sha256 in manifest.json of pegloop compare */',
        f"#define PEGLOOP_STRINGS {len(strings)}",
        "",
        f"static const char *const pegloop_string{size} = {{{_texts(each.string for each in strings)}}};",
    ]
    for place, (name, _) in enumerate(first.words):
        values = _texts(each.words[place][1] for each in strings)
        lines.append(f"static const char *const pegloop_{name}{size} = {{{values}}};")
    for place, number in enumerate(first.numbers):
        values = ", ".join(str(each.numbers[place].value) for each in strings)
        lines.append(f"static const int32_t pegloop_{number.name}{size} = {{{values}}}; /* {number.of} */")
    return "\n".join([*lines, "", "#endif", ""])


def plain(rig: str, sha256: str, strategy: str, strings: Sequence[Constants]) -> dict[str, Any]:
    """Return the same as plain data for JSON."""
    return {
        "rig": rig,
        "rig_sha256": sha256,
        "strategy": strategy,
        "layers": list(strings[0].layers),
        "vectors_within_millideg": UNITS,
        "strings": {each.string: dict(each.words) | {one.name: one.value for one in each.numbers} for each in strings},
    }


def to_csv(found: Sequence[tuple[int, Vector]]) -> str:
    """Return vectors as CSV, the number of the string before each; whole numbers only."""
    rows = [",".join(("string", *Vector._fields)), *(",".join(map(str, (string, *vector))) for string, vector in found)]
    return "\n".join([*rows, ""])


def _texts(words: Iterable[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _said(name: str) -> str:
    """Return a name without what would end a comment."""
    return re.sub(r"[^\w .+-]", "_", name)
