"""What the signal ear of a rig cannot hear whatever it does: said before a run, in one line each."""

from collections.abc import Collection, Iterator

from models.detectors.base import Detector, least_of, work_of
from models.hearing.listening import Listening
from models.hearing.processor import Processor
from models.hearing.signal import SignalEar
from scenarios.schema import Scenario
from sim.build import build


def deaf(scenario: Scenario, strings: Collection[str]) -> tuple[str, ...]:
    """Return why a rig that was loaded with ``ear="signal"`` cannot hear some of its strings; empty when it can."""
    return tuple(dict.fromkeys(line for string in strings for line in _deaf(scenario, string)))


def _deaf(scenario: Scenario, string: str) -> Iterator[str]:
    rig = build(scenario, string)
    assert isinstance(rig.ear, SignalEar)
    target_hz, rate_hz = rig.chain.string.target_hz, rig.ear.converter.rate_hz
    if rate_hz <= 2.0 * target_hz:
        yield f"{rate_hz:g} samples/s carry at most {rate_hz / 2.0:g} Hz; {string} is at {target_hz:.1f} Hz"
    listening = rig.ear.listening
    ends_s = listening.skip_s + rig.ear.window_s
    if ends_s > rig.chain.string.t60_s:
        yield f"the first window ends {ends_s:.2f} s after the pluck; {string} is over in {rig.chain.string.t60_s:g} s"
    yield from _too_small(rig.ear.detector, rate_hz, listening, scenario.hearing["processor"].nominal())


def _too_small(detector: Detector, rate_hz: float, listening: Listening, processor: Processor) -> Iterator[str]:
    least = least_of(detector, rate_hz)
    if least > listening.window_samples:
        yield f"the detector needs {least} samples at {rate_hz:g} samples/s; a window has {listening.window_samples}"
    work = work_of(detector, listening.window_samples, rate_hz)
    if work is not None and not processor.fits(work):
        yield (
            f"the detector needs {processor.bytes_needed(work)} bytes for {listening.window_samples} samples; the "
            f"processor has {processor.memory_bytes}"
        )
