"""How far a series is: a bar on a terminal, a line now and then elsewhere, nothing when quiet."""

import sys
import time
from types import TracebackType
from typing import Any

from sim.cli.screen import Screen

EVERY_S = 30.0


class Progress:
    """Call it with (done, total) while a series runs; use it as a context manager."""

    def __init__(self, screen: Screen) -> None:
        self._screen = screen
        self._bar: Any = None
        self._task: Any = None
        self._next_s = time.monotonic() + EVERY_S

    def __enter__(self) -> "Progress":
        if not self._screen.quiet and self._screen.fancy(sys.stderr) and sys.stderr.isatty():
            self._bar = _bar()
            self._task = self._bar.add_task("runs", total=None)
            self._bar.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._bar:
            self._bar.stop()

    def __call__(self, done: int, total: int) -> None:
        """Show that ``done`` of ``total`` runs are there."""
        if self._bar:
            self._bar.update(self._task, completed=done, total=total)
        elif time.monotonic() >= self._next_s:
            self._next_s += EVERY_S
            self._screen.talk(f"{done} of {total} runs")


def _bar() -> Any:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    console = Console(file=sys.stderr, width=80)
    return Bar("runs", BarColumn(40), MofNCompleteColumn(), TimeRemainingColumn(), console=console, transient=True)
