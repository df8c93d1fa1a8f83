"""Every registered controller keeps the contract, bare and in every wrapper, with any parameters that it allows."""

from dataclasses import dataclass, field
from typing import Any, ClassVar

import pytest
from drawn import components
from hypothesis import given, settings
from hypothesis import strategies as st

from controllers import CONTROLLERS
from controllers.bang_bang import BangBang
from controllers.checks import TASK, check_controller, reading
from controllers.unit import ControllerUnit
from controllers.wrappers.deadband import Deadband
from controllers.wrappers.finish import Finish
from controllers.wrappers.finish_from_below import FinishFromBelow
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.median import Median
from controllers.wrappers.retry import Retry
from controllers.wrappers.slew import Slew
from controllers.wrappers.take_up import TakeUp
from models.component import resolve
from models.messages import DONE, LISTEN, PLUCK, GiveUp, Spin, Turn

WRAPPERS = {
    "finish": lambda inner: Finish(inner, tolerance_cents=3.0, readings=2),
    "retry": lambda inner: Retry(inner, most_missed=1),
    "largest move": lambda inner: LargestMove(inner, angle_deg=10.0),
    "deadband": lambda inner: Deadband(inner, half_cents=1.0),
    "finish from below": lambda inner: FinishFromBelow(inner, below_deg=7.0),
    "take-up": lambda inner: TakeUp(inner, play_deg=4.0),
    "slew": lambda inner: Slew(inner, turn_deg=3.0, spin_deg_s=2.0),
    "median": lambda inner: Median(inner, readings=3),
    "three": lambda inner: Finish(Retry(LargestMove(inner, 10.0), 3), 3.0, 2),
    "as a rig file has them": lambda inner: Retry(
        Median(
            Finish(LargestMove(Slew(TakeUp(FinishFromBelow(Deadband(inner, 1.0), 7.0), 4.0), 3.0), 10.0), 3.0, 2), 3
        ),
        3,
    ),
    "the other way round": lambda inner: Deadband(
        FinishFromBelow(TakeUp(Slew(LargestMove(Finish(Median(Retry(inner, 3), 3), 3.0, 2), 10.0), 3.0), 4.0), 7.0), 1.0
    ),
}


@pytest.mark.parametrize("wrapper", WRAPPERS)
@pytest.mark.parametrize("name", CONTROLLERS)
@settings(max_examples=10)
@given(data=st.data())
def test_wrapped_controllers_keep_the_contract(name: str, wrapper: str, data: st.DataObject) -> None:
    check_controller(WRAPPERS[wrapper](data.draw(components(resolve(CONTROLLERS, name)))))


@pytest.mark.parametrize("name", CONTROLLERS)
@given(data=st.data())
def test_registered_controllers_keep_the_contract(name: str, data: st.DataObject) -> None:
    check_controller(data.draw(components(resolve(CONTROLLERS, name))))


@pytest.mark.parametrize("wrapper", WRAPPERS)
def test_a_wrapper_shows_what_is_in_it(wrapper: str) -> None:
    law = BangBang(step_deg=5.0, deadband_cents=2.0)
    assert repr(law) in repr(WRAPPERS[wrapper](law))


@dataclass(frozen=True)
class Good:
    """A controller that counts; each bad one below breaks one sentence of the contract."""

    gain: float = 0.5

    def start(self, task: Any, kept: Any = None) -> Any:
        return 0

    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return (LISTEN if not seen.cents else Turn(-self.gain * seen.cents)), memory + 1


class Unfrozen(Good):
    __dict__: dict[str, Any]

    def __setattr__(self, name: str, value: Any) -> None:
        object.__setattr__(self, name, value)


class Impure(Good):
    calls: ClassVar[list[int]] = []

    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        self.calls.append(1)
        return Turn(-seen.cents * len(self.calls) if seen.cents else 0.0), memory


class Mutating(Good):
    def start(self, task: Any, kept: Any = None) -> Any:
        return [0]

    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        memory.append(seen.cents)
        return LISTEN, memory


@dataclass(frozen=True)
class Sharing(Good):
    memory: list[float] = field(default_factory=list)

    def start(self, task: Any, kept: Any = None) -> Any:
        return self.memory

    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        self.memory.append(seen.pluck) if seen.pluck > max(self.memory, default=0) else None
        return LISTEN, list(self.memory)


class Deaf(Good):
    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return Turn(-self.gain * seen.cents), memory


class Wordless(Good):
    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return None, memory


class Forgetful(Good):
    def update(self, memory: Any, seen: Any) -> Any:
        return LISTEN


class Endless(Good):
    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return Spin(float("inf")), memory


class Backwards(Good):
    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return Turn(seen.cents or 0.0), memory


class Restless(Good):
    def update(self, memory: Any, seen: Any) -> tuple[Any, Any]:
        return (Turn(1.0) if seen.cents is not None and seen.cents <= 0 else LISTEN), memory


def test_a_good_controller_passes() -> None:
    check_controller(Good())


@pytest.mark.parametrize(
    ("bad", "sentence"),
    [
        (Unfrozen(), "gain can be set"),
        (Impure(), "update must be pure"),
        (Mutating(), "must not change the memory"),
        (Sharing(), "must not change the memory|shared between starts|another memory"),
        (Deaf(), "raised TypeError"),
        (Wordless(), "must be one of Turn, Spin"),
        (Forgetful(), "must return .command, memory."),
        (Endless(), "finite numbers"),
        (Backwards(), "must not loosen a flat string"),
        (Restless(), "reads 0 cents"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Good) else "",
)
def test_each_breach_is_named(bad: Any, sentence: str) -> None:
    with pytest.raises(AssertionError, match=sentence):
        check_controller(bad)


def test_finish_needs_readings_in_a_row_at_rest() -> None:
    unit = ControllerUnit(Finish(BangBang(step_deg=5.0, deadband_cents=2.0), tolerance_cents=3.0, readings=2))
    unit.open(TASK)
    moving = reading(1.0)._replace(moving=True)
    answers = [unit.update(seen) for seen in (reading(1.0), moving, reading(1.0), reading(-1.0))]
    assert answers == [LISTEN, LISTEN, LISTEN, DONE]


def test_finish_forgets_its_count_when_power_is_lost() -> None:
    unit = ControllerUnit(Finish(BangBang(step_deg=5.0, deadband_cents=2.0), tolerance_cents=3.0, readings=2))
    unit.open(TASK)
    assert unit.update(reading(1.0)) == LISTEN
    unit.power_lost()
    assert [unit.update(reading(1.0)) for _ in range(2)] == [LISTEN, DONE]


def test_retry_plucks_and_then_gives_up() -> None:
    unit = ControllerUnit(Retry(BangBang(step_deg=5.0, deadband_cents=2.0), most_missed=2))
    unit.open(TASK)
    answers = [unit.update(reading(None)) for _ in range(3)]
    assert answers[:2] == [PLUCK, PLUCK]
    assert isinstance(answers[2], GiveUp)


@given(angle=st.floats(0.1, 3600.0), cents=st.floats(-2400.0, 1200.0))
def test_largest_move_holds_and_keeps_the_direction(angle: float, cents: float) -> None:
    inner = Good(gain=10.0)
    command, _ = LargestMove(inner, angle).update(0, reading(cents))
    wanted, _ = inner.update(0, reading(cents))
    if isinstance(command, Turn):
        assert abs(command.angle_deg) <= angle
        assert command.angle_deg * wanted.angle_deg >= 0
