"""A signal ear with everything off that a test does not ask for."""

from models.hearing.base import Window
from models.hearing.signal import SignalEar
from models.instrument import Instrument
from scenarios.load import load_rig
from sim.build import Rig, build
from sim.seeds import Chance, Streams

SILENT = (
    "room.part=silent", "microphone.noise_db_spl=-20", "front_end.input_noise_nv_rthz=0", "sound.glide_cents=0",
    "sound.second_share=0", "sound.neighbours_db=-200", "sound.attack_db=-200", "sound.body_spread_db=0",
    "sound.pluck_position=0.2", "sound.pluck_position_spread=0", "converter.clock_ppm=0", "converter.jitter_us=0",
    "converter.bits=24", "converter.nonlinearity_steps=0", "microphone.sensitivity_db_v_pa=-44",
)  # fmt: skip


def quiet_rig(*changes: str, string: str = "E2") -> Rig:
    """Return a nominal rig that hears one string and nothing else; ``changes`` turn things on again."""
    return build(load_rig("default", changes=[*SILENT, *changes], ear="signal"), string)


def ear_of(rig: Rig) -> SignalEar:
    assert isinstance(rig.ear, SignalEar)
    return rig.ear


def resting(rig: Rig, cents: float = 0.0, plucked_ns: int = 0, level_db: float = 0.0) -> Instrument:
    """Return the instrument with its string at rest and plucked."""
    instrument = Instrument({rig.string: rig.chain}, {rig.string: rig.begins(cents).angles})
    instrument.pluck(rig.string, plucked_ns, level_db)
    return instrument


def chance(rig: Rig, run: int = 0) -> Chance:
    return Chance(Streams(1), rig.string, run)


def window(rig: Rig, open_ns: int, number: int = 0, pluck: int = 0) -> Window:
    return Window(rig.string, open_ns, open_ns + round(ear_of(rig).window_s * 1e9), pluck, number)
