"""What makes an estimate a reading: checks in a stated order, after either ear."""

from statistics import median
from typing import Annotated, Final

from pydantic import Field, field_validator

from models.component import NonNegative, Positive, Share, component
from models.hearing.base import Heard
from models.units import cents, shifted

STAGES: Final = ("clipping", "level", "periodicity", "fold", "gate", "agree", "median")
OCTAVE_CENTS: Final = 1200.0
NO_PLUCK: Final = -1  # what is remembered belongs to none


@component
class Acceptance:
    """The firmware's doubt of its own detector.

    Law: an estimate goes through the stages named in ``order``, one after another, and becomes a reading if none stops
    it. *clipping*, *level* and *periodicity* look at the window, *gate* at the distance from the target, *fold* moves a
    pitch one octave towards the target when it is more than half an octave away, *agree* waits for readings that
    agree, *median* answers with the median of the last ones. A pluck and a turn forget the past.

    Fails when: the detector is wrong in the same way each time: an octave error agrees with itself and may be periodic.

    Source: common practice; periodicity 0.8 is a signal-to-noise ratio of 6 dB (independent arithmetic).
    """

    order: str
    """Stages in use, in order, with spaces between: clipping, level, periodicity, fold, gate, agree, median."""

    most_clipped_share: Share
    """Stage *clipping*: most samples that may meet a limit. Clipping harms pitch little; 0.5 is not too much."""

    least_peak_share: Share
    """Stage *level*: least peak as a share of half the converter's range. 8 steps of 10 bits are 0.016."""

    least_periodicity: Share
    """Stage *periodicity*: least periodicity of the estimate. 0.5 is a signal-to-noise ratio of 0 dB, 0.8 one of 6."""

    gate_cents: Positive
    """Stage *gate*: farthest from the target that is believed; the detector searches no further either."""

    agree_readings: Annotated[int, Field(ge=2, le=20)]
    """Stage *agree*: readings in a row, within one pluck and with no turn between, that have to agree."""

    agree_cents: NonNegative
    """Stage *agree*: how far apart they may lie."""

    median_readings: Annotated[int, Field(ge=2, le=20)]
    """Stage *median*: readings, within one pluck and with no turn between, of which the median is taken."""

    @field_validator("order")
    @classmethod
    def _known_stages(cls, order: str) -> str:
        named = order.split()
        if strange := [stage for stage in named if stage not in STAGES or named.count(stage) > 1]:
            raise ValueError(f"{strange[0]} is unknown or named twice; stages: {', '.join(STAGES)}")
        return order

    def stages(self) -> tuple[str, ...]:
        """Return the stages in use, in order."""
        return tuple(self.order.split())

    def search_hz(self, target_hz: float) -> tuple[float, float] | None:
        """Return the lowest and highest pitch worth a search; None without a gate."""
        if "gate" not in self.stages():
            return None
        reach = self.gate_cents + (OCTAVE_CENTS if "fold" in self.stages() else 0.0)
        return shifted(target_hz, -reach), shifted(target_hz, reach)

    def readings_needed(self) -> int:
        """Return how many windows of one pluck have to be heard before the first reading is accepted."""
        return self.agree_readings if "agree" in self.stages() else 1


class Accepting:
    """Acceptance at work in one run: remembers the last estimates of a pluck."""

    __slots__ = ("_acceptance", "_agreeing", "_pluck", "_settled", "_stages", "_target_hz")

    def __init__(self, acceptance: Acceptance, target_hz: float) -> None:
        self._acceptance, self._target_hz = acceptance, target_hz
        self._stages = tuple(getattr(self, f"_{stage}") for stage in acceptance.stages())
        self._agreeing: list[float] = []
        self._settled: list[float] = []
        self._pluck = NO_PLUCK

    def forget(self) -> None:
        """Start afresh: the string was turned."""
        self._pluck = NO_PLUCK

    def take(self, heard: Heard, pluck: int) -> float | None:
        """Return the accepted pitch error in cents, None when it is not believed or nothing was heard."""
        pitch_hz = heard.estimate.pitch_hz
        if pitch_hz is None:
            return None
        if pluck != self._pluck:
            self._pluck = pluck
            self._agreeing.clear()
            self._settled.clear()
        error: float | None = cents(pitch_hz, self._target_hz)
        for stage in self._stages:
            error = stage(error, heard)
            if error is None:
                return None
        return error

    def _clipping(self, error: float, heard: Heard) -> float | None:
        return error if heard.clipped_share <= self._acceptance.most_clipped_share else None

    def _level(self, error: float, heard: Heard) -> float | None:
        return error if heard.peak_share >= self._acceptance.least_peak_share else None

    def _periodicity(self, error: float, heard: Heard) -> float | None:
        return error if heard.estimate.periodicity >= self._acceptance.least_periodicity else None

    def _gate(self, error: float, heard: Heard) -> float | None:
        return error if abs(error) <= self._acceptance.gate_cents else None

    def _fold(self, error: float, heard: Heard) -> float | None:
        if abs(error) <= OCTAVE_CENTS / 2.0:
            return error
        return error - OCTAVE_CENTS if error > 0.0 else error + OCTAVE_CENTS

    def _agree(self, error: float, heard: Heard) -> float | None:
        self._agreeing.append(error)
        last = self._agreeing[-self._acceptance.agree_readings :]
        enough = len(last) == self._acceptance.agree_readings
        return error if enough and max(last) - min(last) <= self._acceptance.agree_cents else None

    def _median(self, error: float, heard: Heard) -> float | None:
        self._settled.append(error)
        return median(self._settled[-self._acceptance.median_readings :])
