"""Protections in mechanics: what they pass, what they hold, and what they say of themselves."""

from collections.abc import Sequence

import pytest

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.build import build
from sim.design.guard_limits import starts
from sim.design.hardware import hardware, lacking, stop_deg, stop_holds, travel_deg
from sim.design.facts import describe
from sim.design.refusals import doubts
from sim.outcome import Outcome
from sim.series.bench import record_of


def rig(name: str, *changes: str) -> Scenario:
    return load_rig(name, changes=list(changes))
