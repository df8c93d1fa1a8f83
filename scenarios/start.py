"""The first step of the command ``pegloop``: see that the packages are ours, then hand over to ``sim.cli``.

It stands here and not in ``sim``, since a foreign module of that common name would otherwise be started in its place.
"""

import sys
from importlib import import_module

from scenarios.shadow import impostor


def main() -> int:
    """Run the command and return its exit code; 2 when a foreign module hides one of our packages."""
    if hidden := impostor():
        sys.stderr.write(f"pegloop: {hidden}\n")
        return 2
    code: int = import_module("sim.cli").main()
    return code
