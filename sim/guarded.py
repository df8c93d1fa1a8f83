"""What guards would have made of a run: one unguarded run gives the trip instant of each, and what is left then."""

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Final, NamedTuple

from controllers.guards.base import Event, Guard, Heard, Moved, Over, Told, Woke, trip_s
from models.drive import Drive
from models.motors.base import angle_deg, current_a, voltage_v
from models.path import Stretch
from models.units import NANOSECONDS, to_ns
from sim.corners import course
from sim.loop import Record
from sim.metrics import percent_of_breaking
from sim.trace import Outcome

PACES: Final = (
    0.25,
    0.5,
    1.0,
    1.5,
    2.0,
    3.0,
    4.0,
    6.0,
)  # of a surge's time constant, between which it is taken straight

FINAL: Final = (Outcome.STRING_BROKE, Outcome.CRASHED)  # outcomes that a guard cannot undo at the same instant


Bring = Callable[[Drive, int], None]
"""Brings a drive to rest from an instant on, in nanoseconds."""


class Stop(NamedTuple):
    """A run that a guard stopped."""

    at_s: float
    """Since the start of the run."""
    broken: bool
    """Whether the string broke all the same, before the stop or while the motor came to rest."""
    percent_of_breaking: float
    """Highest tension up to where everything rests, in percent of breaking."""
    left_cents: float
    """Pitch error in which the string is left; nan where it broke or is slack."""
    plucks: int
    """Plucks up to the stop."""
    readings: int
    """Readings from the fault's first act up to the stop; from the start where no fault acted before."""
    after_s: float
    """Time from the same instant to the stop."""
    turned_deg: float
    """Turns of the shaft both ways from the same instant until it rests."""


def events(record: Record) -> list[Event]:
    """Return what guards can know of a run, in order of time."""
    path = record.instrument.paths[record.rig.string]
    found: list[Event] = [Heard(reading.arrival_s, reading.cents) for reading in record.readings]
    found += [Told(at_ns / NANOSECONDS, command) for at_ns, command in record.commands]
    for each in path.stretches:
        if each.start_ns < min(each.end_ns, record.end_ns):
            found += _moved(each, record.end_ns)
    found += [Woke(at_ns / NANOSECONDS) for at_ns in record.resets_ns]
    ends_s = record.end_ns / NANOSECONDS
    return [*(event for event in sorted(found, key=_at_s) if event.at_s <= ends_s), Over(ends_s)]


def _at_s(event: Event) -> float:
    return event.at_s


def _moved(stretch: Stretch, end_ns: int) -> Iterator[Moved]:
    """Give a stretch of motion in parts: while a surge dies away the current is no straight line."""
    lasts_s = (max(stretch.start_ns, min(stretch.end_ns, end_ns)) - stretch.start_ns) / NANOSECONDS
    piece = stretch.piece
    joints = [pace / piece.rate_per_s for pace in PACES] if piece.surge_a and piece.rate_per_s else []
    ends = [0.0, *(joint for joint in joints if joint < lasts_s), lasts_s]
    looks = [(angle_deg(piece, at_s), current_a(piece, at_s), voltage_v(piece, at_s)) for at_s in ends]
    starts_s = stretch.start_ns / NANOSECONDS
    for (first_s, (deg, amp, volt)), (last_s, (last_deg, last_a, last_v)) in pairwise(zip(ends, looks, strict=True)):
        yield Moved(starts_s + first_s, starts_s + last_s, last_deg - deg, amp, last_a, volt, last_v)


def trips(record: Record, guards: Mapping[str, Guard]) -> dict[str, float | None]:
    """Return when each guard would have stopped a run, in seconds; None where it would not, or could not."""
    seen = events(record)
    found = {name: trip_s(guard, seen) for name, guard in guards.items()}
    return {
        name: None if at_s is None or not able(guards[name], record, at_s) else at_s for name, at_s in found.items()
    }


def able(guard: Guard, record: Record, at_s: float) -> bool:
    """Return whether the faults of a run leave a guard the means to stop it; before they act they do."""
    if record.struck_ns is None or to_ns(at_s) < record.struck_ns:
        return True
    faults = record.rig.faults.values()
    taken_out = any(guard.place in fault.takes_out for fault in faults)
    ignored = guard.acts == "command" and any(fault.unasked for fault in faults)
    return not taken_out and not ignored


def reaches_s(record: Record, turn_deg: float) -> float | None:
    """Return when the knob was turned so far from where the machine was put on, in seconds; None if it never was."""
    path, chain = record.instrument.paths[record.rig.string], record.rig.chain
    goal_deg = path.begins.knob_deg + turn_deg
    each = next((each for each in path.stretches if each.ends.knob_deg >= goal_deg), None)
    if each is None or each.start_ns > record.end_ns:
        return None
    low_ns, high_ns = each.start_ns, each.end_ns
    while high_ns - low_ns > 1:
        middle_ns = (low_ns + high_ns) // 2
        short = chain.follow(each.begins, each.shaft_deg(middle_ns)).knob_deg < goal_deg
        low_ns, high_ns = (middle_ns, high_ns) if short else (low_ns, middle_ns)
    return low_ns / NANOSECONDS


def brings(guards: Mapping[str, Guard]) -> dict[str, Bring]:
    """Return how each guard brings the drive to rest."""
    return {name: Drive.stop_at if guard.acts == "command" else _without_power for name, guard in guards.items()}


def _without_power(drive: Drive, past_ns: int) -> None:
    drive.stop_at(past_ns, powered=False)


def stopped(record: Record, guards: Mapping[str, Guard]) -> Record:
    """Return a run as it is with guards: cut back to where the first of them trips, the motor coming to rest.

    Uses up the record. A string that broke by then, or while the motor came to rest, stays broken.
    """
    tripped = {name: at_s for name, at_s in trips(record, guards).items() if at_s is not None}
    first = min(tripped, key=lambda name: tripped[name], default=None)
    if first is None or to_ns(tripped[first]) > record.end_ns:
        return record
    now_ns = to_ns(tripped[first])
    if now_ns >= record.end_ns and record.outcome in FINAL:
        return record
    _cut(record, now_ns)
    if _rested(record, now_ns, brings(guards)[first]):
        record.outcome, record.detail = Outcome.STRING_BROKE, f"while the motor came to rest after {first} tripped"
    else:
        record.outcome, record.detail = Outcome.GUARD_TRIPPED, first
    return record


def _cut(record: Record, now_ns: int) -> None:
    """Forget what was heard, told and done after an instant; the drive is another matter."""
    record.readings = [each for each in record.readings if to_ns(each.arrival_s) <= now_ns]
    record.commands = [each for each in record.commands if each[0] <= now_ns]
    record.resets_ns = [at_ns for at_ns in record.resets_ns if at_ns <= now_ns]
    plucks = record.instrument.plucks
    plucks[record.rig.string] = [each for each in plucks[record.rig.string] if each[0] <= now_ns]


def _rested(record: Record, now_ns: int, bring: Bring) -> bool:
    """Bring the motor to rest from an instant on and end the run there; return whether the string broke meanwhile."""
    assert record.drive is not None
    bring(record.drive, now_ns)
    record.end_ns, record.ends = max(now_ns, record.drive.end.at_ns), None
    record.regrips_ns = record.drive.regrips_ns
    record.instrument.advance(max(record.instrument.now_ns, record.end_ns))
    return record.drive.end.how == "broke"


def stops(record: Record, bring: Mapping[str, Bring], tripped: Mapping[str, float | None]) -> dict[str, Stop]:
    """Return what is left when each guard that tripped stops the run alone, the motor coming to rest by itself.

    A guard of the command makes the driver stop the motor; one of the power leaves it to friction and load.

    Uses up the record: the run is cut back to one instant after another, from the last to the first.
    """
    ends_s = record.end_ns / NANOSECONDS
    due = sorted(((at_s, name) for name, at_s in tripped.items() if at_s is not None and at_s <= ends_s), reverse=True)
    return {name: _stopped(record, at_s, bring[name]) for at_s, name in due}


def _stopped(record: Record, at_s: float, bring: Bring) -> Stop:
    now_ns = min(to_ns(at_s), record.end_ns)
    broke = record.outcome is Outcome.STRING_BROKE and now_ns >= record.end_ns
    if not broke:
        broke, record.outcome = _rested(record, now_ns, bring), Outcome.TIME_LIMIT
    found = course(record)
    percent = percent_of_breaking(found.highest_n, found.breaking_n)
    since_ns = since(record, now_ns)
    turned = _turned_deg(record, since_ns)
    record.end_ns = now_ns
    heard_ns = [to_ns(reading.arrival_s) for reading in record.readings]
    return Stop(
        at_s=at_s,
        broken=broke,
        percent_of_breaking=percent if math.isfinite(percent) else 100.0,
        left_cents=math.nan if broke else found.error_cents[-1],
        plucks=sum(1 for at_ns, _ in record.instrument.plucks[record.rig.string] if at_ns <= now_ns),
        readings=sum(1 for each_ns in heard_ns if since_ns <= each_ns <= now_ns),
        after_s=(now_ns - since_ns) / NANOSECONDS,
        turned_deg=turned,
    )


def since(record: Record, now_ns: int) -> int:
    """Return the instant from which a stop at ``now_ns`` counts: the fault's first act, or the start."""
    struck_ns = record.struck_ns
    return 0 if struck_ns is None or struck_ns > now_ns else struck_ns


def _turned_deg(record: Record, since_ns: int) -> float:
    """Return what the shaft turned both ways from an instant to the end of the record."""
    stretches = record.instrument.paths[record.rig.string].stretches
    return sum(
        abs(each.shaft_deg(min(each.end_ns, record.end_ns)) - each.shaft_deg(max(each.start_ns, since_ns)))
        for each in stretches
        if each.end_ns > since_ns and each.start_ns < record.end_ns
    )
