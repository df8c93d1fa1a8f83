"""Where results and talk go: text within 80 columns, tables, JSON; plain where a terminal cannot do more."""

import json
import math
import os
import shutil
import sys
from collections.abc import Mapping
from io import StringIO
from typing import Any, TextIO

from sim.views.tables import Table

WIDEST = 80


class Screen:
    """Writes results to stdout and talk to stderr.

    ``colour`` is auto, always or never; ``quiet`` leaves talk out.
    """

    def __init__(self, colour: str, quiet: bool) -> None:
        self.colour, self.quiet = colour, quiet
        self.width = max(40, min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns))

    def fancy(self, stream: TextIO) -> bool:
        """Return whether a stream gets colours: asked for, or a terminal that can and whose user did not refuse."""
        if self.colour != "auto":
            return self.colour == "always"
        return stream.isatty() and os.environ.get("TERM") != "dumb" and not os.environ.get("NO_COLOR")

    def say(self, text: str = "", style: str = "", indent: int = 0) -> None:
        """Print a paragraph of the result, wrapped."""
        from rich.padding import Padding
        from rich.text import Text

        self._show(sys.stdout, Padding(Text(text, style=style), (0, 0, 0, indent)))

    def print(self, text: str) -> None:
        """Write a text of the result as it is: a file's contents."""
        sys.stdout.write(text)

    def talk(self, text: str) -> None:
        """Print a remark to stderr, unless quiet."""
        from rich.text import Text

        if not self.quiet:
            self._show(sys.stderr, Text(text, style="dim"))

    def table(self, table: Table) -> None:
        """Print a table under its title."""
        from rich.table import Table as Grid

        self.say(table.title, "bold")
        grid = Grid(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="underline")
        lines = max(column.count("\n") for column in table.columns)
        for place, column in enumerate(table.columns):
            header = "\n" * (lines - column.count("\n")) + column  # headers stand at the bottom, cells at the top
            words = place < table.left  # words may wrap, numbers may not
            grid.add_column(header, justify="left" if words else "right", overflow="fold", no_wrap=not words)
        for row in table.rows:
            grid.add_row(*row)
        self._show(sys.stdout, grid)
        self.say()

    def json(self, data: Any) -> None:
        """Print valid JSON; what is not a finite number becomes null."""
        sys.stdout.write(json.dumps(clean(data), indent=2, ensure_ascii=True, allow_nan=False) + "\n")

    def _show(self, stream: TextIO, what: Any) -> None:
        """Render to a string first, so that broken pipes and narrow encodings are the stream's own business."""
        from rich.console import Console

        fancy, page = self.fancy(stream), StringIO()
        Console(
            file=page, width=self.width, force_terminal=fancy, color_system="standard" if fancy else None,
            highlight=False, markup=False, emoji=False, legacy_windows=False,
        ).print(what)  # fmt: skip
        stream.write("".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines()))


def clean(data: Any) -> Any:
    """Return plain data for JSON: numpy numbers as Python's, nan and inf as None."""
    if isinstance(data, Mapping):
        return {str(key): clean(value) for key, value in data.items()}
    if isinstance(data, (list, tuple)):
        return [clean(value) for value in data]
    if hasattr(data, "item"):
        data = data.item()
    return None if isinstance(data, float) and not math.isfinite(data) else data
