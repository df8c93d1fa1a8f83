"""All that happened in a run, as arrays with units in their names, and how it ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.messages import Command, Reading

Floats = NDArray[np.float64]


class Outcome(Enum):
    """How a run ended; the value is one sentence of advice."""

    FINISHED = "The machine believes that the string is in tune; look at the true error before you trust it."
    GAVE_UP = "Too many readings in a row were missed: pluck louder, come closer, or lower the ear's floor."
    TIME_LIMIT = "Time ran out: larger steps, a higher gain or a faster ear would help, or allow more seconds."
    PLUCK_LIMIT = "Plucks ran out: the step may exceed the band, or it is so small that the way is long."
    STRING_BROKE = "The string broke: clamp the largest move below the reserve, and doubt single readings."
    STALLED = "The motor could not turn further: more torque, a higher gear ratio, or less friction in the worm."
    TRAVEL_USED_UP = "The motor's travel is used up: allow re-gripping, or take a motor that turns further."
    CRASHED = "The controller raised an error; the row says which."
    GUARD_TRIPPED = "A guard stopped the machine: look for the cause, and widen its limit if there is none."


@dataclass(frozen=True, slots=True)
class Course:
    """What measures are made of: corners of a run as plain numbers, and its counts."""

    outcome: Outcome
    tolerance_cents: float
    end_s: float
    t_s: Sequence[float]
    error_cents: Sequence[float]
    relaxed_error_cents: float
    """Error once plucks have relaxed the string at its nut; nan when slack or broken."""
    moves_deg: Sequence[float]
    highest_n: float
    """Highest tension anywhere along the string."""
    breaking_n: float
    energy_j: float
    charge_c: float
    plucks: int
    readings: int
    regrips: int


@dataclass(frozen=True, slots=True)
class Trace:
    """One run, finished.

    The path arrays hold the corners between which motion is smooth; ``t_s`` rises, all have one length.
    """

    string: str
    target_hz: float
    tolerance_cents: float
    pitch: str
    """``"first-partial"`` or ``"effective"``: which one errors are scored against."""
    outcome: Outcome
    detail: str
    """What the outcome adds, such as the error of a crashed controller; often empty."""
    end_s: float
    t_s: Floats
    shaft_deg: Floats
    post_deg: Floats
    tension_n: Floats
    """Of the speaking length."""
    behind_n: Floats
    """Between nut and post: higher while it is wound up, lower while it is let down, where the nut has friction."""
    first_partial_cents: Floats
    """Error of the first partial; nan when slack or broken."""
    effective_cents: Floats
    """Error of the effective pitch; nan when slack or broken."""
    torque_nm: Floats
    current_a: Floats
    voltage_v: Floats
    breaking_n: float
    relaxed_error_cents: float
    """Error in the end once plucks have relaxed the string at its nut; nan when slack or broken."""
    energy_j: float
    charge_c: float
    plucks_s: tuple[float, ...]
    readings: tuple[Reading, ...]
    commands: tuple[tuple[float, Command], ...]
    """Seconds and command, in order."""
    regrips_s: tuple[float, ...] = ()
    moves_deg: tuple[float, ...] = ()
    """Signed turn of the gripped shaft, one for each stretch of motion."""

    def error_cents(self) -> Floats:
        """Return the error of the pitch that the task means."""
        return self.first_partial_cents if self.pitch == "first-partial" else self.effective_cents

    def course(self) -> Course:
        """Return the corners and counts that measures are made of."""
        return Course(
            outcome=self.outcome,
            tolerance_cents=self.tolerance_cents,
            end_s=self.end_s,
            t_s=self.t_s.tolist(),
            error_cents=self.error_cents().tolist(),
            relaxed_error_cents=self.relaxed_error_cents,
            moves_deg=self.moves_deg,
            highest_n=float(max(self.tension_n.max(), self.behind_n.max())),
            breaking_n=self.breaking_n,
            energy_j=self.energy_j,
            charge_c=self.charge_c,
            plucks=len(self.plucks_s),
            readings=len(self.readings),
            regrips=len(self.regrips_s),
        )

    def columns(self) -> dict[str, Any]:
        """Return the path arrays by name."""
        names = ("t_s", "shaft_deg", "post_deg", "tension_n", "behind_n", "first_partial_cents", "effective_cents")
        return {name: getattr(self, name) for name in (*names, "torque_nm", "current_a", "voltage_v")}
