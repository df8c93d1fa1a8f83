"""The signal ear of one specimen on one string, wired from its parts; imported where a rig listens with it."""

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from models.detectors.base import Detector, told
from models.hearing.acceptance import Acceptance
from models.hearing.circuit import Circuit, circuit
from models.hearing.neighbours import neighbours
from models.hearing.scene import Scene
from models.hearing.signal import SignalEar, signal_ear
from models.hearing.voice import Voice, colour
from models.strings.vibration import inharmonicity
from scenarios.schema import Scenario
from sim.seeds import Streams
from sim.specimen import Draw, as_built


def build_ear(scenario: Scenario, string: str, streams: Streams | None, specimen: int, shared: Draw) -> SignalEar:
    """Return the signal ear of a rig that was loaded with ``ear="signal"``; without streams the nominal one."""
    parts = {section: part.drawn(shared) for section, part in scenario.hearing.items()}
    voices = {name: _voice(scenario, name, streams, specimen, shared) for name in scenario.strings}
    scene = Scene(voices.pop(string), neighbours(tuple(voices.values())), parts["room"])
    return signal_ear(
        scene=scene,
        circuit=_circuit(parts["microphone"], parts["front_end"], parts["room"]),
        converter=parts["converter"],
        processor=parts["processor"],
        listening=parts["listening"],
        detector=told_by_rig(parts["detector"], scenario, string),
    )


_circuit: Callable[..., Circuit] = lru_cache(maxsize=256)(circuit)


def _voice(scenario: Scenario, string: str, streams: Streams | None, specimen: int, shared: Draw) -> Voice:
    def own(key: str) -> float:
        return shared(f"{string} {key}")

    sound = scenario.sounds[string].drawn(own)
    stream = None if streams is None else streams.colour(string, specimen)
    return Voice(as_built(scenario, string, own), sound, colour(sound, stream))


def told_by_rig(detector: Detector, scenario: Scenario, string: str) -> Detector:
    """Tell a detector what the firmware believes: where to search, and the nominal string's inharmonicity."""
    nominal = as_built(scenario, string, lambda key: 0.5)
    stiff = inharmonicity(nominal.bending_n, nominal.tension_at_hz(nominal.target_hz))
    acceptance: Acceptance = scenario.acceptance.nominal()
    search = acceptance.search_hz(nominal.target_hz)
    known: Mapping[str, Any] = {} if search is None else {"lowest_hz": search[0], "highest_hz": search[1]}
    found: Detector = told(detector, inharmonicity=stiff, **known)
    return found
