"""What detectors made of a recording, as tables of words and a few sentences."""

from collections.abc import Sequence
from typing import Final

from sim.hearing.recording import Accepted, Reading, Recording
from sim.views.numbers import NONE, number, signed
from sim.views.tables import Table

ABREAST: Final = 4  # detectors beside each other in 80 columns
CHANNELS: Final = {1: "mono", 2: "stereo (mean of both channels)"}


def tables(found: Recording) -> list[Table]:
    """Return the accepted pitches, then the readings window by window, a few detectors a table."""
    names = tuple(dict.fromkeys(reading.detector for reading in found.readings))
    parts = [names[start : start + ABREAST] for start in range(0, len(names), ABREAST)]
    return [accepted(found, names), *(readings(found, part) for part in parts)]


def accepted(found: Recording, names: Sequence[str]) -> Table:
    """Return the accepted pitch of each detector, with how many readings it is the median of."""
    columns = ("detector", "windows", "heard", "accepted", "Hz", "note", "cents", "spread\ncents")
    return Table("Accepted pitch: median of the accepted readings", columns, tuple(_row(found, name) for name in names))


def _row(found: Recording, name: str) -> tuple[str, ...]:
    own = [reading for reading in found.readings if reading.detector == name]
    heard = sum(reading.pitch_hz is not None for reading in own)
    said = found.accepted.get(name)
    if said is None:
        return (name, str(len(own)), str(heard), "0", NONE, NONE, NONE, NONE)
    error, spread = signed(said.cents), f"{said.spread_cents:.2f}"
    return (name, str(len(own)), str(heard), str(said.readings), f"{said.pitch_hz:.3f}", said.note, error, spread)


def readings(found: Recording, names: Sequence[str]) -> Table:
    """Return a row for each window: cents with a target, Hz without."""
    unit = f"cents re {found.target.name}" if found.target else "Hz"
    by_time: dict[float, dict[str, Reading]] = {}
    for reading in found.readings:
        by_time.setdefault(reading.t_s, {})[reading.detector] = reading
    rows = tuple((f"{at_s:.2f}", *(_told(own[name], found) for name in names)) for at_s, own in by_time.items())
    title = f"Readings in {unit}, by the centre of the window; (not accepted), {NONE} not heard"
    return Table(title, ("at s", *(name.replace("-", "-\n", 1) for name in names)), rows, left=0)


def _told(reading: Reading, found: Recording) -> str:
    if reading.pitch_hz is None:
        return NONE
    text = signed(reading.cents) if found.target else f"{reading.pitch_hz:.2f}"
    return text if reading.accepted else f"({text})"


def about(found: Recording) -> list[str]:
    """Return what was recorded and how it was listened to, a sentence each."""
    wave = found.wave
    first = (
        f"{found.file}: {number(wave.seconds())} s at {wave.rate_hz} samples/s, {wave.form}, {CHANNELS[wave.channels]}."
    )
    return [first, _heard_by(found), _plucks(found), *found.remarks, *_nothing(found)]


def _heard_by(found: Recording) -> str:
    listener = found.listener
    timing = f"{listener.rate_hz:g} samples/s, windows of {listener.window_samples} samples"
    if listener.ear is None:
        return f"Heard by an ideal input at {timing}; name a RIG to hear it through a circuit."
    bits = listener.ear.converter.bits
    return (
        f"Heard through microphone, front end and converter of {listener.rig}: {timing}, {bits} bits; "
        f"the loudest half second was set to the rig's {number(listener.level_db_spl)} dB SPL."
    )


def _plucks(found: Recording) -> str:
    count, skip = len(found.plucks_s), number(found.listener.skip_s)
    if not count:
        return "No pluck was found: the sound counts as ringing from the start."
    return (
        f"{count} pluck{'' if count == 1 else 's'} found (the level jumps by 6 dB); {skip} s after each are not used."
    )


def _nothing(found: Recording) -> list[str]:
    """Return why nothing was accepted, if nothing was and no remark says it."""
    if found.accepted or found.remarks:
        return []
    if not found.wave.samples.any():
        return ["Nothing was heard: the recording is silent."]
    if not any(reading.pitch_hz is not None for reading in found.readings):
        return ["Nothing was heard: no window repeats itself. Record nearer to the string, without noise."]
    return [
        "No reading was accepted: the sound is noisy, far from the target, or too short: a window lasts "
        f"{number(found.listener.window_s())} s, opens {number(found.listener.skip_s)} s after a pluck or later and "
        "ends before the next."
    ]


def verdicts(found: Recording) -> list[str]:
    """Return a sentence for each detector that has an accepted pitch."""
    return [f"{name}: {verdict(said, found)}." for name, said in found.accepted.items()]


def verdict(said: Accepted, found: Recording) -> str:
    """Return how far a pitch is from its note, and whether that is within the tolerance."""
    tolerance = found.listener.tolerance_cents
    way = "sharp of" if said.cents >= 0.0 else "flat of"
    within = "within" if abs(said.cents) <= tolerance else "outside"
    of = f"median of {said.readings} reading{'' if said.readings == 1 else 's'}"
    off = f"{abs(said.cents):.1f} cents {way} {said.note}"
    return f"{said.pitch_hz:.2f} Hz, {off} ({of}), {within} ±{number(tolerance)} cents"
