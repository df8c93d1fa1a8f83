"""Constants as a C header, and the vectors as CSV."""

import re
from collections.abc import Sequence
from typing import Any

from sim.export.constants import Constants
from sim.export.vectors import Vector

GUARD = "PEGLOOP_CONSTANTS_H"


def header(rig: str, sha256: str, strategy: str, strings: Sequence[Constants], caution: str) -> str:
    """Return the header: for each constant an array with one 32-bit whole number a string."""
    first = strings[0]
    names = ", ".join(f'"{each.string}"' for each in strings)
    lines = [
        f"/* {_said(strategy)} on rig {_said(rig)}: {' in '.join(first.layers)}.",
        " * Made by pegloop export; change the rig and make it anew, not this file.",
        f" * {caution} */",
        f"#ifndef {GUARD}",
        f"#define {GUARD}",
        "#include <stdint.h>",
        "",
        f'#define PEGLOOP_RIG_SHA256 "{sha256}"',
        f"#define PEGLOOP_STRINGS {len(strings)}",
        *(f"/* {name} = {value} */" for name, value in first.words),
        "",
        f"static const char *const pegloop_string[PEGLOOP_STRINGS] = {{{names}}};",
    ]
    for place, number in enumerate(first.numbers):
        values = ", ".join(str(each.numbers[place].value) for each in strings)
        lines.append(f"static const int32_t pegloop_{number.name}[PEGLOOP_STRINGS] = {{{values}}}; /* {number.of} */")
    return "\n".join([*lines, "", "#endif", ""])


def plain(rig: str, sha256: str, strategy: str, strings: Sequence[Constants]) -> dict[str, Any]:
    """Return the same as plain data for JSON."""
    return {
        "rig": rig,
        "rig_sha256": sha256,
        "strategy": strategy,
        "layers": list(strings[0].layers),
        "words": dict(strings[0].words),
        "strings": {each.string: {number.name: number.value for number in each.numbers} for each in strings},
    }


def to_csv(found: Sequence[tuple[int, Vector]]) -> str:
    """Return vectors as CSV, the number of the string before each; whole numbers only."""
    rows = [",".join(("string", *Vector._fields)), *(",".join(map(str, (string, *vector))) for string, vector in found)]
    return "\n".join([*rows, ""])


def _said(name: str) -> str:
    """Return a name without what would end a comment."""
    return re.sub(r"[^\w .+-]", "_", name)
