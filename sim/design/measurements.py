"""The measurements of the bench, in the order of their worth: what decides most about a machine stands first."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from scenarios.schema import Scenario
from sim.build import Rig
from sim.design import predictions
from sim.design.predictions import Span, at_pitch_n

ARM_MM: Final = 100.0  # a skewer or ruler is long enough, and a kitchen scale resolves the mass
MARKED_DEG: Final = (360.0, 90.0, 30.0, 10.0)  # turns of the knob that a mark allows, the best one first
MOST_CENTS: Final = 700.0  # a string slackened further may jump out of its slot

TURNS: Final = ("head.worm_friction", "head.lead_angle_deg", "head.friction", "head.axial_n", "head.screw_friction")

WHIPS: Final = "The string is under tension: eye protection on, face away, never above its pitch."
PINCHES: Final = "Fingers and hair away from the coupler; the motor unplugged while a hand is on it."
SHORTS: Final = "Do not short the supply; take a battery out that gets warm."
HEATS: Final = "A stalled motor heats up: two seconds at a time, then let it cool. " + SHORTS


@dataclass(frozen=True, slots=True)
class Measurement:
    """One thing to measure with household means."""

    name: str
    unit: str
    each: Literal["string", "rig"]
    """Whether every string has a reading of its own."""
    do: str
    """What to do, in words; ``{setting}`` stands for the setting."""
    caution: str
    settles: tuple[str, ...]
    """Sections and keys of a rig, ``"head.worm_friction"``; those that a rig's parts do not have are left out."""
    predicted: Callable[[Rig, float], Span]
    setting: str = ""
    """Name and unit of what is agreed on beforehand, such as ``"arm_mm"``; empty = nothing."""
    choose: Callable[[Sequence[Rig]], float] = lambda rigs: 0.0
    """Value of the setting, from the nominal specimen's strings."""
    serves: Callable[[Scenario], bool] = lambda scenario: True


def _arm_mm(rigs: Sequence[Rig]) -> float:
    del rigs
    return ARM_MM


def _turn_deg(rigs: Sequence[Rig]) -> float:
    """Return the largest marked turn that slackens no string too far."""
    steepest = max(rig.chain.cents_per_knob_deg(at_pitch_n(rig)) for rig in rigs)
    return next((turn for turn in MARKED_DEG if turn * steepest <= MOST_CENTS), MARKED_DEG[-1])


def _brushed(scenario: Scenario) -> bool:
    """Return whether the motor draws more when it is held still."""
    return "stall_current_a" in scenario.motor.values


MEASUREMENTS: Final = (
    Measurement(
        name="knob-turn",
        unit="cents",
        each="string",
        do="All strings at pitch. Mark knob and head. Tune up to the target; press the string down behind the nut, "
        "pluck, note the pitch. Slacken by more than {setting} degrees, come back up to exactly {setting} degrees"
        " below the mark, press, pluck, note it again. Read the difference.",
        caution=WHIPS,
        settles=(
            "strings.axial_stiffness_kn", "strings.total_length_mm", "head.post_radius_mm", "head.ratio",
            "body.compliance_um_per_n",
        ),
        predicted=predictions.knob_turn_cents,
        setting="turn_deg",
        choose=_turn_deg,
    ),
    Measurement(
        name="coupler-wiggle",
        unit="deg",
        each="rig",
        do="Put the coupler on the knob of a string at pitch, motor unplugged. Hold the knob, rock the motor's body "
        "to and fro until either side touches; read the angle with a paper protractor.",
        caution=PINCHES,
        settles=("coupler.slop_deg", "motor.output_slop_deg"),
        predicted=predictions.wiggle_deg,
    ),
    Measurement(
        name="tightening-weight",
        unit="g",
        each="string",
        do="String at pitch, plucked and pressed behind the nut. Clamp a light stick across the knob, balanced and "
        "level, and hang a bag {setting} mm from the knob's middle on the tightening side. Pour in sand until the"
        " knob begins to turn; weigh the bag.",
        caution=WHIPS,
        settles=TURNS,
        predicted=predictions.tightening_g,
        setting="arm_mm",
        choose=_arm_mm,
    ),
    Measurement(
        name="lifting-weight",
        unit="g",
        each="rig",
        do="Clamp the motor down, the stick on its shaft, level. Hang a bag {setting} mm from the shaft and ask for "
        "a small turn upwards, with more sand each time; read the heaviest bag that it lifts from rest.",
        caution="Keep hands from under the bag. " + HEATS,
        settles=(
            "motor.stall_torque_ref_nm", "motor.breakaway_factor", "motor.pull_out_share", "motor.gear_efficiency",
        ),
        predicted=predictions.lifting_g,
        setting="arm_mm",
        choose=_arm_mm,
    ),
    Measurement(
        name="loosening-weight",
        unit="g",
        each="string",
        do="As tightening-weight, bag on the loosening side {setting} mm from the middle. If the knob turns by "
        "itself, note with a minus what must hang on the tightening side to hold it.",
        caution=WHIPS,
        settles=TURNS,
        predicted=predictions.loosening_g,
        setting="arm_mm",
        choose=_arm_mm,
    ),
    Measurement(
        name="reversal",
        unit="deg",
        each="string",
        do="Tune up to the target, tightening last. Pluck once, and while it rings turn the knob back slowly, a "
        "tuner in view. Read the knob's angle at which the pitch gives way.",
        caution=WHIPS,
        settles=("nut.friction", "nut.wrap_deg", "nut.kinetic_share"),
        predicted=predictions.reversal_deg,
    ),
    Measurement(
        name="pressing",
        unit="cents",
        each="string",
        do="Tune up to the target, tightening last. Pluck once and note the pitch. Press the string down behind the "
        "nut, let go, a few times; pluck and note it again. Read the rise, a fall with a minus.",
        caution=WHIPS,
        settles=("nut.relaxation_share", "nut.friction", "nut.wrap_deg"),
        predicted=predictions.pressing_cents,
    ),
    Measurement(
        name="supply-open",
        unit="V",
        each="rig",
        do="Read a multimeter across the supply with nothing connected.",
        caution=SHORTS,
        settles=("supply.voltage_v", "supply.charge_share", "supply.full_v", "supply.empty_v"),
        predicted=predictions.open_v,
    ),
    Measurement(
        name="ear-spread",
        unit="cents",
        each="string",
        do="Leave the string alone at pitch. Take one reading from each of ten plucks and read their standard "
        "deviation; leave octaves and misses out.",
        caution=WHIPS,
        settles=("ear.pluck_cents", "ear.reading_cents", "ear.wander_cents"),
        predicted=predictions.ear_cents,
    ),
    Measurement(
        name="motor-time",
        unit="s",
        each="rig",
        do="Motor clamped down, nothing on its shaft. Film it: the time from one end of its travel to the other, or "
        "of ten turns of a mark where it has no ends.",
        caution=PINCHES,
        settles=("motor.speed_ref_deg_s", "motor.gear_ratio"),
        predicted=predictions.motor_s,
    ),
    Measurement(
        name="slack-wiggle",
        unit="deg",
        each="string",
        do="Slacken the string until it hangs. Turn the knob to and fro between the points at which the post begins "
        "to move; read the angle.",
        caution="Slacken slowly; hold the loose string, its end springs up.",
        settles=("head.backlash_deg",),
        predicted=predictions.slack_wiggle_deg,
    ),
    Measurement(
        name="supply-stalled",
        unit="V",
        each="rig",
        do="Multimeter across the supply, motor connected. Hold the shaft's arm against a stop and ask for a large "
        "turn; read the voltage.",
        caution=HEATS,
        settles=("supply.resistance_ohm", "supply.full_ohm", "supply.empty_ohm", "motor.stall_current_a"),
        predicted=predictions.stalled_v,
        serves=_brushed,
    ),
    Measurement(
        name="motor-travel",
        unit="deg",
        each="rig",
        do="Ask for one end of the travel, then for the other; read the angle of the arm with a paper protractor.",
        caution=PINCHES,
        settles=("motor.travel_deg",),
        predicted=predictions.travel_deg,
    ),
)  # fmt: skip
