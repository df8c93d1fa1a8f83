"""The study of a circuit as tables of words and a few sentences of advice."""

import math
from typing import Final

from sim.hearing.circuit import CircuitStudy, Level, Noise
from sim.hearing.tolerances import Alias, Corner
from sim.views.numbers import number, signed
from sim.views.tables import Table

PREFIXES: Final = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))
LEAST_PEAK_STEPS: Final = 8.0  # measured with another implementation: above, rounding costs less than 0.3 cent
HARD_PLUCK_DB: Final = 12.0  # estimate: how far a hard pluck and its attack rise above the usual level
LOST_DB: Final = 0.5  # less is not worth a word
FOLD_FAILS_DB: Final = -10.0  # measured with another implementation: -6 dB gives 28 % wrong readings, -14 dB 2 %
FOLD_SAFE_DB: Final = -20.0


def tables(study: CircuitStudy) -> list[Table]:
    """Return all tables of a study; those with nothing to say are left out."""
    found = [levels(study), parts(study), corners(study), folds(study), scatters(study)]
    return [table for table in found if table.rows]


def advice(study: CircuitStudy) -> list[str]:
    """Return what to change and what to leave, a paragraph each."""
    said = [_gain(study), _rest(study), _bandwidth(study), *_sampling(study), _tolerances(study), _noise(study)]
    return [sentence for sentence in said if sentence]


def levels(study: CircuitStudy) -> Table:
    """Return the way of a tone at each string's pitch to the converter."""
    rows = tuple(
        (
            level.string, f"{level.target_hz:.2f}", number(level.stage_gain), number(level.total_gain),
            number(1e3 * level.microphone_v), number(1e3 * level.converter_v), number(level.steps),
            signed(level.room_db), f"{level.delay_ms:.1f}",
        )
        for level in study.levels
    )  # fmt: skip
    columns = (
        "string", "Hz", "gain of\na stage", "gain\nin all", "microphone\nmV", "converter\nmV", "steps", "room\ndB",
        "delay\nms",
    )  # fmt: skip
    return Table(f"A tone of {number(study.level_db_spl)} dB SPL at the pitch of each string (rms)", columns, rows)


def parts(study: CircuitStudy) -> Table:
    """Return the parts to buy, in the order of the signal."""
    rows = tuple(
        (bought.stage, bought.part, _engineering(bought.exact, bought.part), _engineering(bought.value, bought.part))
        for bought in study.parts
    )
    return Table("Parts: as reckoned, and preferred values (IEC 60063)", ("stage", "part", "reckoned", "buy"), rows, 2)


def corners(study: CircuitStudy) -> Table:
    """Return what the preferred values really give."""
    rows = tuple(
        (
            corner.stage, _amount(corner.wanted, corner), _amount(corner.built, corner),
            f"{number(corner.low)} to {number(corner.high)}", number(corner.wanted_q), number(corner.built_q),
        )
        for corner in study.corners
    )  # fmt: skip
    columns = ("stage", "wanted", "built", "95 % of\nbuilds", "Q\nwanted", "Q\nbuilt")
    return Table("Corners and gains with preferred values; builds with R 1 %, C 10 %", columns, rows)


def folds(study: CircuitStudy) -> Table:
    """Return the strongest partial of each string that folds into its search range."""
    rows = tuple(
        (
            alias.string, str(alias.partial), f"{alias.true_hz:.1f}", f"{alias.folded_hz:.1f}",
            signed(alias.off_cents, 0), signed(alias.level_db), signed(alias.level_high_db),
        )
        for alias in study.aliases
    )  # fmt: skip
    columns = ("string", "partial", "Hz", "seen at\nHz", "off\ncents", "dB re\npartial 1", "worst of\n95 %, dB")
    title = f"Strongest partial that folds to within 400 cents, at {number(study.rate_hz, 6)} samples/s"
    return Table(title, columns, rows)


def scatters(study: CircuitStudy) -> Table:
    """Return what part tolerances do to each string."""
    rows = tuple(
        (
            scatter.string, f"{signed(scatter.level_low_db, 2)} to {signed(scatter.level_high_db, 2)}", "0",
            signed(scatter.effective_cents, 2), f"{scatter.change_cents:.2f}",
        )
        for scatter in study.scatters
    )  # fmt: skip
    columns = ("string", "level\ndB", "partial 1\ncents", "period re\npartial 1, cents", "changes by\ncents")
    return Table("What part tolerances do, in 95 % of builds", columns, rows)


def _gain(study: CircuitStudy) -> str:
    quiet, loud = min(study.levels, key=_peak_steps), min(study.levels, key=lambda level: level.room_db)
    spare_db = loud.room_db - HARD_PLUCK_DB
    if not min(study.swing.up_v, study.swing.down_v):
        return ""
    if loud.room_db < 0.0:
        return f"{loud.string} clips at {study.level_db_spl:g} dB SPL. {_times(spare_db)}"
    peak = f"The weakest string, {quiet.string}, peaks at {number(_peak_steps(quiet), 2)} steps"
    if _peak_steps(quiet) < LEAST_PEAK_STEPS:
        needed_db = 20.0 * math.log10(LEAST_PEAK_STEPS / _peak_steps(quiet))
        enough = "" if needed_db <= spare_db else " That is too few all the same: take a converter with more bits."
        return f"{peak} of the {LEAST_PEAK_STEPS:g} that a good reading needs. {_times(spare_db)}{enough}"
    more = f" {_times(spare_db)}" if not 0.0 <= spare_db < HARD_PLUCK_DB / 2.0 else ""
    return f"{peak} ({LEAST_PEAK_STEPS:g} are enough), and {loud.string} leaves {loud.room_db:.1f} dB of room.{more}"


def _times(db: float) -> str:
    """Return the advice to change the gain by decibels."""
    return f"Multiply the gain by {number(10.0 ** (db / 20.0), 2)} to leave {HARD_PLUCK_DB:g} dB for hard plucks."


def _peak_steps(level: Level) -> float:
    return math.sqrt(2.0) * level.steps


def _rest(study: CircuitStudy) -> str:
    swing = study.swing
    if not min(swing.up_v, swing.down_v):
        return (
            f"Bias {swing.rest_v:g} V leaves the converter half of every wave: "
            f"shift it to {swing.middle_v:.2f} V, the middle of the range."
        )
    leaves = f"Bias {swing.rest_v:g} V leaves {swing.up_v:.2f} V above and {swing.down_v:.2f} V below"
    if swing.lost_db < LOST_DB:
        return f"{leaves}, near the middle of the swing ({swing.middle_v:.2f} V)."
    return (
        f"{leaves}: {swing.lost_db:.1f} dB lost, and loud plucks clip on one side, which makes even harmonics; "
        f"{swing.middle_v:.2f} V is the middle of the swing."
    )


def _bandwidth(study: CircuitStudy) -> str:
    band = study.bandwidth
    found = (
        f"A stage of gain {number(band.gain)} reaches {_hertz(band.pole_hz)}; with {band.stages} of that kind "
        f"{band.loss_db:.2f} dB are lost at {_hertz(band.edge_hz)}"
    )
    if band.loss_db < LOST_DB:
        return f"{found}: enough."
    return f"{found}: share the gain among more stages, or take a faster op-amp."


def _sampling(study: CircuitStudy) -> list[str]:
    """Return what folds, and which strings lie beyond half the rate."""
    highest = max(level.target_hz for level in study.levels)
    beyond = (
        f"{', '.join(study.above_half_rate)} cannot be heard at {number(study.rate_hz, 6)} samples/s: "
        f"take at least {_hertz(3.0 * highest)}."
    )
    return ([beyond] if study.above_half_rate else []) + [_fold(study)]


def _fold(study: CircuitStudy) -> str:
    if not study.aliases:
        return "No partial folds to within 400 cents of its own string."
    worst: Alias = max(study.aliases, key=lambda alias: alias.level_high_db)
    found = (
        f"Partial {worst.partial} of {worst.string} folds to {worst.folded_hz:.1f} Hz, {signed(worst.off_cents, 0)} "
        f"cents from the string, {signed(worst.level_high_db)} dB re its partial 1 in the worst builds"
    )
    if worst.level_high_db <= FOLD_SAFE_DB:
        return f"{found}: harmless."
    harm = "readings go wrong" if worst.level_high_db > FOLD_FAILS_DB else "a few readings in a hundred go wrong"
    cure = "a steeper low-pass" if study.bandwidth.filtered else "a low-pass, which is missing,"
    return f"{found}: {harm}; {cure} or a higher rate keeps it out."


def _tolerances(study: CircuitStudy) -> str:
    moved = max((_moved(corner) for corner in study.corners if corner.unit == "Hz"), default=0.0)
    level = max(max(-scatter.level_low_db, scatter.level_high_db) for scatter in study.scatters)
    pitch = math.ceil(100.0 * max(scatter.change_cents for scatter in study.scatters)) / 100.0
    late = max(level.delay_ms for level in study.levels)
    return (
        f"Part tolerances and rounding move corners by up to {100.0 * moved:.0f} % and levels by {level:.1f} dB. "
        f"A filter that stands still moves no frequency: partial 1 stays, a period over the partials moves by at most "
        f"{pitch:.2f} cents, and everything comes up to {late:.1f} ms late."
    )


def _moved(corner: Corner) -> float:
    return max(corner.high / corner.wanted - 1.0, 1.0 - corner.low / corner.wanted)


def _noise(study: CircuitStudy) -> str:
    noise = study.noise
    sources = {
        "the microphone": noise.microphone_steps,
        "the first op-amp and the source": noise.front_end_steps,
        "rounding to steps": noise.rounding_steps,
    }
    weakest = min(study.levels, key=lambda level: level.steps)
    return (
        f"Without sound the converter sees {number(_total(noise), 2)} steps rms, most of it from "
        f"{max(sources, key=lambda name: sources[name])}: {weakest.string} stands "
        f"{20.0 * math.log10(weakest.steps / _total(noise)):.0f} dB above it, room noise and hum not counted."
    )


def _total(noise: Noise) -> float:
    return math.hypot(noise.microphone_steps, noise.front_end_steps, noise.rounding_steps)


def _amount(value: float, corner: Corner) -> str:
    return f"{number(value)} {corner.unit}"


def _hertz(value: float) -> str:
    return f"{number(value / 1e3)} kHz" if value >= 1e4 else f"{number(value)} Hz"


def _engineering(value: float, part: str) -> str:
    """Return ohms or farads with a prefix: ``4.7 kohm``, ``120 nF``."""
    scale, prefix = next((pair for pair in PREFIXES if value >= 0.9995 * pair[0]), PREFIXES[-1])
    return f"{number(value / scale)} {prefix}{'ohm' if part[0] == 'R' else 'F'}"
