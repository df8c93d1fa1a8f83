"""The contract of tuning heads: what a knob does to the string, and what friction in the head does to the knob."""

from typing import NamedTuple, Protocol


class Mechanism(NamedTuple):
    """A head as built. Torques are those at the knob."""

    ratio: float
    """Knob turns for one turn of the post."""
    torque_up: float
    """Torque at the knob per torque at the post, tightening."""
    torque_down: float
    """The same loosening; negative when the string drives the knob."""
    backlash_deg: float = 0.0
    """Free turn of the post between its two flanks."""
    post_friction_nm: float = 0.0
    """Torque at the post that friction holds against the string."""
    static_nm: float = 0.0
    """Torque of friction that does not come from the string's pull, before the knob turns."""
    kinetic_nm: float = 0.0
    """The same while the knob turns; below the static one it turns in jumps."""
    jump_share: float = 1.0
    """1 = a jump ends where torques balance, 2 = the parts fly through without loss."""

    def quantum_nm(self) -> float:
        """Return by how much a jump lowers the torque on the knob."""
        return self.jump_share * (self.static_nm - self.kinetic_nm)


class TuningHead(Protocol):
    """What every head offers."""

    @property
    def tightens(self) -> str:
        """Which way the knob tightens, seen from its end: clockwise, anticlockwise or unknown."""
        ...

    def winding_radius_mm(self, gauge_mm: float) -> float:
        """Return the radius at which the post takes up a string of that gauge."""
        ...

    def mechanism(self) -> Mechanism:
        """Return what lies between knob and post."""
        ...

    def self_locking(self) -> bool:
        """Return whether the head keeps or catches the string when nothing grips the knob."""
        ...

    def travel_deg(self) -> float:
        """Return how far the knob turns from end to end, infinite where it has none."""
        ...

    def wall_force_n(self) -> float:
        """Return the force with which the head presses the wood around it outwards; 0 where it does not."""
        ...

    def pulls_behind_saddle(self) -> bool:
        """Return whether it pulls the string's end behind the saddle, and not the one behind the nut."""
        ...
