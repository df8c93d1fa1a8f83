"""The loop: one SimPy process a run, in which player, ear, controller and drive take turns.

The plant is no process: it is advanced when somebody looks. Waits in which nobody can act are merged, so that a reading
costs one event. Three drivings differ only in when the next window opens.
"""

from collections.abc import Generator
from dataclasses import dataclass, field

import simpy

from controllers.base import checked
from models.drive import Drive, DriveEnd, Grip, Stand
from models.faults.base import Reset
from models.hearing.acceptance import Accepting
from models.hearing.base import Window
from models.instrument import Instrument
from models.messages import LISTEN, Command, Done, GiveUp, Pluck, Reading, Spin, Stop, Turn
from models.units import NANOSECONDS, shifted, to_ns
from sim.build import Rig
from sim.clock import Waits, waits
from sim.faulty import Faults
from sim.isolated import Failed
from sim.plan import Plan
from sim.seeds import Chance
from sim.trace import Outcome

Events = Generator[simpy.Event, None, None]
ENDINGS = {"broke": Outcome.STRING_BROKE, "stalled": Outcome.STALLED, "travel used up": Outcome.TRAVEL_USED_UP}


@dataclass(slots=True)
class Record:
    """What a run leaves behind: messages and the plant, in whole nanoseconds."""

    rig: Rig
    instrument: Instrument
    readings: list[Reading] = field(default_factory=list)
    commands: list[tuple[int, Command]] = field(default_factory=list)
    regrips_ns: list[int] = field(default_factory=list)
    resets_ns: list[int] = field(default_factory=list)
    """When the unit lost its supply."""
    struck_ns: int | None = None
    """When a fault of the rig first changed something; None where none did."""
    outcome: Outcome = Outcome.TIME_LIMIT
    detail: str = ""
    end_ns: int = 0
    ends: Stand | None = None
    """Where drive and string come to rest after the run; None where a guard cut it short."""
    drive: Drive | None = None
    """The drive with all that it did, for whoever asks what an earlier stop would have left."""


def simulate(rig: Rig, plan: Plan, begins: Stand, chance: Chance) -> Record:
    """Run one tuning of one string and return its record."""
    environment = simpy.Environment()
    run = _Run(environment, rig, plan, begins, chance)
    environment.run(until=environment.process(run.tune()))
    return run.record


class _Run:
    def __init__(self, environment: simpy.Environment, rig: Rig, plan: Plan, begins: Stand, chance: Chance) -> None:
        instrument = Instrument({rig.string: rig.chain}, {rig.string: begins.angles})
        self.record = Record(rig, instrument)
        self._environment, self._rig, self._chance, self._plan = environment, rig, chance, plan
        self._waits: Waits = waits(rig.ear, plan.driving, rig.task, rig.delay_s)
        self._unit = plan.unit()
        self._drive = Drive(instrument, rig.string, rig.machine, _grips(rig, chance), begins)
        self._accepting = Accepting(rig.acceptance, rig.chain.string.target_hz)
        self._faults = Faults(rig.faults, rig.machine.motor.accepts, chance, altered=rig.altered)
        self.record.drive = self._drive
        self._plucked_ns: list[int] = []

    def tune(self) -> Events:
        """Pluck, listen, decide and turn until the run ends."""
        window: Window | None = self._opened()
        while window is not None:
            arrival_ns = window.close_ns + self._waits.delivery_ns
            if self._loses_power(arrival_ns):
                yield from self._wait_until(self._drive.end.at_ns)
                window = self._restarted(int(self._environment.now))
                continue
            ending = self._ending_before(arrival_ns)
            if ending is not None:
                yield from self._wait_until(ending.at_ns)
                break
            yield from self._wait_until(arrival_ns)
            window = self._hear_and_act(window, arrival_ns)
        self._unit.close()
        self.record.struck_ns = self._faults.struck_ns
        self._drive.stop(self.record.end_ns)
        self.record.ends = self._drive.stands()
        self.record.regrips_ns = self._drive.regrips_ns

    def _opened(self) -> Window | None:
        """Switch the machine on and pluck first; None when it does not start, or when the string breaks untouched."""
        path = self.record.instrument.paths[self._rig.string]
        if self._rig.chain.broken(path.begins):
            self.record.instrument.breaks_ns[self._rig.string] = 0
            self._finish(Outcome.STRING_BROKE, 0)
            return None
        try:
            self._unit.open(self._rig.task)
        except Exception as error:  # a user's controller may raise anything; the run is reported as crashed
            self._finish(Outcome.CRASHED, 0, _said(error))
            return None
        return self._pluck_after(self._act(LISTEN, 0)[1])

    def _wait_until(self, at_ns: int) -> Events:
        yield self._environment.timeout(at_ns - int(self._environment.now))
        self.record.instrument.advance(at_ns)

    def _loses_power(self, arrival_ns: int) -> bool:
        """Return whether the supply breaks down before the next reading arrives, and before time is up."""
        end = self._drive.end
        return end.how == "brown-out" and end.at_ns <= min(arrival_ns, self._waits.limit_ns)

    def _restarted(self, now_ns: int) -> Window | None:
        """Start the unit again without what it kept; it begins with a pluck."""
        self.record.resets_ns.append(now_ns)
        self._unit.power_lost()
        self._accepting.forget()
        self._drive.rest(now_ns)
        return self._pluck_after(now_ns + to_ns(self._rig.power.start_up_s))

    def _ending_before(self, arrival_ns: int) -> DriveEnd | None:
        """Return what ends the run before the next reading arrives, if anything does."""
        end = self._drive.end
        if end.how != "rest" and end.at_ns <= min(arrival_ns, self._waits.limit_ns):
            self._finish(ENDINGS[end.how], end.at_ns)
            return end
        if arrival_ns > self._waits.limit_ns:
            self._finish(Outcome.TIME_LIMIT, self._waits.limit_ns)
            return DriveEnd(self._waits.limit_ns, "rest")
        return None

    def _finish(self, outcome: Outcome, at_ns: int, detail: str = "") -> None:
        self.record.outcome, self.record.end_ns, self.record.detail = outcome, at_ns, detail
        while self._plucks_on(at_ns):
            self._pluck(self._plucked_ns[-1])

    def _plucks_on(self, at_ns: int) -> bool:
        """Return whether a player in rhythm plucks again before the run ends, readings in flight or not."""
        rhythm = self._plan.driving.driving == "overlapped" and bool(self._plucked_ns)
        return rhythm and len(self._plucked_ns) < self._rig.task.pluck_limit and self._plucked_ns[-1] <= at_ns

    def _hear_and_act(self, window: Window, now_ns: int) -> Window | None:
        """Take in a reading and carry out the answer; return the next window, or None when the run is over."""
        reading = self._listen(window, now_ns)
        try:
            told = self._faults.told(checked(self._unit.update(reading)), now_ns)
            self.record.readings.append(reading)
            if isinstance(told, Reset):
                self._drive.stop(now_ns)
                return self._restarted(now_ns)
            self.record.commands.append((now_ns, told))
            command, ready_ns = self._act(told, now_ns)
        except Exception as error:  # a user's controller may raise anything; the run is reported as crashed
            self._finish(Outcome.CRASHED, now_ns, _said(error))
            return None
        if isinstance(command, Done):
            self._finish(Outcome.FINISHED, now_ns)
            return None
        if isinstance(command, GiveUp):
            self._finish(Outcome.GAVE_UP, now_ns, command.reason)
            return None
        return self._next_window(window, command, now_ns, ready_ns)

    def _listen(self, window: Window, now_ns: int) -> Reading:
        heard = self._rig.ear.listen(self.record.instrument, window, self._chance)
        if self._rig.faults:
            heard = heard._replace(estimate=self._faults.heard(heard.estimate, now_ns))
        error = self._accepting.take(heard, window.pluck)
        return Reading(
            pitch_hz=None if error is None else shifted(self._rig.chain.string.target_hz, error),
            cents=error,
            periodicity=heard.estimate.periodicity,
            centre_s=window.centre_ns() / NANOSECONDS,
            arrival_s=now_ns / NANOSECONDS,
            moving=heard.moving,
            pluck=window.pluck + 1,
        )

    def _act(self, told: Command, now_ns: int) -> tuple[Command, int]:
        """Hand a command to the drive; return what became of it there, and when it has been carried out."""
        command, asked = self._faults.driven(told, now_ns)
        if isinstance(command, Turn | Spin):
            if type(command) not in self._rig.machine.motor.accepts:
                raise ValueError(f"the motor cannot {type(command).__name__.lower()}")
            self._accepting.forget()
            end = self._drive.command(command, now_ns, hand=asked)
            return command, end.at_ns + self._waits.dead_ns
        if isinstance(command, Stop | Pluck):
            self._drive.stop(now_ns)
        return command, now_ns

    def _next_window(self, last: Window, command: Command, now_ns: int, ready_ns: int) -> Window | None:
        """Return the next window of this driving, None when it would need one pluck too many."""
        driving = self._plan.driving
        used_up = last.number + 1 >= driving.readings_per_pluck
        if driving.driving == "overlapped":
            return self._in_rhythm(last) if used_up else self._same_pluck(last, 0)
        if used_up or isinstance(command, Pluck):
            if driving.driving == "turning":
                self._drive.stop(now_ns)
                ready_ns = now_ns
            return self._pluck_after(ready_ns)
        return self._same_pluck(last, ready_ns if driving.driving == "step" else 0)

    def _in_rhythm(self, last: Window) -> Window | None:
        """Return the next pluck's window: it comes when it comes, yet no sooner than a hop after the last window."""
        window = self._pluck_after(self._plucked_ns[-1])
        if window is None:
            return None
        return self._window(max(window.open_ns, last.open_ns + self._waits.hop_ns), window.pluck, window.number)

    def _same_pluck(self, last: Window, ready_ns: int) -> Window:
        return self._window(max(last.open_ns + self._waits.hop_ns, ready_ns), last.pluck, last.number + 1)

    def _window(self, open_ns: int, pluck: int, number: int) -> Window:
        return Window(self._rig.string, open_ns, open_ns + self._waits.window_ns, pluck, number)

    def _pluck_after(self, ready_ns: int) -> Window | None:
        if len(self._plucked_ns) >= self._rig.task.pluck_limit:
            end = self._drive.end
            outcome = ENDINGS.get(end.how, Outcome.PLUCK_LIMIT)
            self._finish(outcome, max(end.at_ns, int(self._environment.now)))
            return None
        return self._pluck(ready_ns)

    def _pluck(self, ready_ns: int) -> Window:
        """Let the player pluck after a time by chance; return the window that hears it."""
        number = len(self._plucked_ns)
        time_normal, level_normal = self._chance.pluck(number)
        at_ns = ready_ns + to_ns(self._rig.player.pluck_time_s(time_normal))
        self.record.instrument.pluck(self._rig.string, at_ns, self._rig.player.level_spread_db * level_normal)
        self._drive.plucked(at_ns, self._rig.relaxation_share)
        self._plucked_ns.append(at_ns)
        return self._window(at_ns + self._waits.skip_ns, number, 0)


def _grips(rig: Rig, chance: Chance) -> Grip:
    """Return what each grip takes; it holds no run, so that a run that is over is freed at once."""

    def grip(number: int) -> tuple[float, float]:
        normal, uniform = chance.grip(number)
        return rig.player.regrip_time_s(normal), uniform

    return grip


def _said(error: Exception) -> str:
    return str(error) if isinstance(error, Failed) else f"{type(error).__name__}: {error}"
