"""The simulator: ``from sim import load_rig, run, compare``, resolved when first used; importing stays cheap."""

TYPE_CHECKING = False  # as ``typing`` has it, whose import would cost as much as all of the help
if TYPE_CHECKING:
    from typing import Any

    from scenarios.load import load_rig
    from sim.api import RunResult, compare, run

__all__ = ["RunResult", "compare", "load_rig", "run"]

_HOMES = {"load_rig": "scenarios.load", "run": "sim.api", "compare": "sim.api", "RunResult": "sim.api"}


def __getattr__(name: str) -> "Any":
    if name not in _HOMES:
        raise AttributeError(f"module 'sim' has no attribute {name!r}")
    from importlib import import_module

    from scenarios.shadow import impostor

    if hidden := impostor():
        raise ImportError(hidden)
    return getattr(import_module(_HOMES[name]), name)
