"""Common slips of units: a value far outside its class that fits once it is read in another unit."""

from collections.abc import Iterator
from typing import Final

from models.units import unit_of
from scenarios.schema import GIVEN, Part, Range, Scenario, Value

_MS = ("ms", 1e-3)
_PERCENT = ("percent", 1e-2)
_INCH = ("inch", 25.4)
_METRE = ("m", 1e3)
_CM = ("cm", 10.0)
_MA = ("mA", 1e-3)

Usual = tuple[float, float, tuple[tuple[str, float], ...]]

USUAL: Final[dict[str, Usual]] = {
    "a4_hz": (400, 480, (("kHz", 1e3),)),
    "axial_stiffness_kn": (0.3, 150, (("N", 1e-3),)),
    "computing_s": (0, 0.5, (_MS, ("us", 1e-6))),
    "core_mm": (0.15, 1.3, (_INCH,)),
    "dead_time_s": (0, 3, (_MS,)),
    "frame_ms": (2, 30, (("s", 1e3), ("us", 1e-3))),
    "gauge_mm": (0.2, 3.6, (_INCH,)),
    "hop_s": (0.002, 1.5, (_MS,)),
    "length_mm": (250, 1000, (_METRE, _INCH, _CM)),
    "link_s": (0, 0.5, (_MS, ("us", 1e-6))),
    "missed_share": (0, 0.6, (_PERCENT,)),
    "octave_high_share": (0, 0.3, (_PERCENT,)),
    "octave_low_share": (0, 0.3, (_PERCENT,)),
    "pluck_s": (0.1, 20, (_MS,)),
    "post_radius_mm": (1.5, 9, (_METRE, _INCH, _CM)),
    "pulse_deadband_us": (0.3, 60, (("ms", 1e3),)),
    "pulse_span_us": (400, 3000, (("ms", 1e3),)),
    "regrip_s": (0.3, 60, (_MS,)),
    "resistance_ohm": (0, 20, (("milliohm", 1e-3),)),
    "run_current_a": (0, 3, (_MA,)),
    "skip_s": (0, 1, (_MS,)),
    "specimens_share": (0, 1, (_PERCENT,)),
    "speed_ref_deg_s": (150, 2000, (("turns a minute", 6.0), ("rad/s", 57.29578))),
    "stall_current_a": (0.1, 15, (_MA,)),
    "stall_torque_ref_nm": (0.05, 1.5, (("kgf cm", 0.0980665), ("oz in", 0.00706155), ("N mm", 1e-3))),
    "strength_mpa": (100, 3500, (("GPa", 1e3),)),
    "t60_s": (0.3, 25, (_MS,)),
    "tolerance_cents": (0.2, 60, (("semitones", 100.0),)),
    "total_length_mm": (250, 1400, (_METRE, _INCH, _CM)),
    "travel_deg": (60, 2200, (("rad", 57.29578), ("turns", 360.0))),
    "tuned_share": (0, 1, (_PERCENT,)),
    "unit_weight_g_per_m": (0.2, 50, (("kg/m", 1e3), ("lb/in", 17857.967))),
    "voltage_v": (2, 30, (("mV", 1e-3),)),
    "window_s": (0.004, 2, (_MS,)),
}
"""Key -> what is usual from and to (common practice), and units it is mixed up with: name, size in its own unit."""


def hint(key: str, value: Value) -> str:
    """Return what a value would be in the unit that was probably meant, ``""`` when it is usual as it stands."""
    if key not in USUAL or isinstance(value, str | bool):
        return ""
    lowest, highest, units = USUAL[key]
    ends = (value.low, value.high) if isinstance(value, Range) else (float(value), float(value))
    if 0.0 in ends or _within(ends, lowest, highest):
        return ""
    for name, size in units:
        if _within((ends[0] * size, ends[1] * size), lowest, highest):
            return f"{_told(ends)} {name} would be {_told((ends[0] * size, ends[1] * size))} {unit_of(key)}".rstrip()
    return ""


def warnings(scenario: Scenario) -> tuple[str, ...]:
    """Return a sentence for each value of the user's own file that looks like a slip of units."""
    found = (_warning(part, key) for part in _parts(scenario) for key in part.values)
    return tuple(dict.fromkeys(filter(None, found)))


def _warning(part: Part, key: str) -> str:
    source, slip = part.sources[key], hint(key, part.values[key])
    if not slip or not source.startswith(GIVEN):
        return ""
    lowest, highest, _ = USUAL[key]
    place = source.removeprefix(GIVEN)
    return f"{place}  {part.path}.{key}  usual is {lowest:g} to {highest:g} {unit_of(key)}; {slip}"


def _parts(scenario: Scenario) -> Iterator[Part]:
    yield scenario.setting
    yield from scenario.strings.values()
    yield from scenario.heads.values()
    yield from (scenario.coupler, scenario.motor, scenario.supply, scenario.player, scenario.acceptance)
    yield from (scenario.body, scenario.session)
    yield from (*scenario.nuts.values(), *scenario.creeps.values(), *scenario.climates.values(), scenario.unit)
    yield from (*scenario.ears.values(), *scenario.hearing.values(), *scenario.sounds.values())
    for strategy in scenario.strategies:
        yield from strategy.drivings.values()


def _within(ends: tuple[float, float], lowest: float, highest: float) -> bool:
    return lowest <= ends[0] and ends[1] <= highest


def _told(ends: tuple[float, float]) -> str:
    return " to ".join(f"{end:.3g}" for end in dict.fromkeys(ends))
