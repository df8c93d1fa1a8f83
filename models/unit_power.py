"""How the unit is fed: a machine that loses its supply voltage forgets what it was doing."""

from models.component import NonNegative, component


@component
class UnitPower:
    """The supply of the controller's board.

    Law: when the motor's supply falls below ``brown_out_v`` at its terminals, the motor stops at that instant, and the
    unit starts again after ``start_up_s`` without what it kept in memory.

    Fails when: the board has its own supply (then the voltage is 0 here), or a large capacitor carries it through.

    Source: data sheets of processors and regulators; see its part.
    """

    brown_out_v: NonNegative
    """Voltage of the motor's supply below which the unit resets; 0 for a unit with a supply of its own."""

    start_up_s: NonNegative
    """Time from the reset until the unit listens again. Measure it: a boot loader alone takes 1 to 2 s."""

    current_a: NonNegative
    """Current that the unit draws all the time, from the same supply. Measure it."""
