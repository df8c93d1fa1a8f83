"""The straight line from no-load speed to stall that a brushed motor behind a gear keeps, on a supply that sags."""

from typing import NamedTuple

from models.messages import Load, Piece, Source


class Line(NamedTuple):
    """What a motor does on one supply: ``speed = deg_s_per_nm (stall - torque)``; the current rises from ``run_a``."""

    stall_nm: float
    deg_s_per_nm: float
    run_a: float
    a_per_nm: float
    source: Source

    def speed_deg_s(self, torque_nm: float, push: float = 1.0) -> float:
        """Return the speed against a torque, 0 or more; ``push`` is the share of the full voltage."""
        left_nm = push * self.stall_nm - torque_nm
        return self.deg_s_per_nm * left_nm if left_nm > 0.0 else 0.0

    def rate_per_s(self, ahead: Load) -> float:
        """Return how fast the speed falls as the load grows."""
        return self.deg_s_per_nm * ahead.slope_nm_per_deg

    def piece(self, seconds: float, start_deg: float, speed_deg_s: float, ahead: Load) -> Piece:
        """Return a stretch that starts at a speed and slows down with the load; one that helps saves no current."""
        rate, a_per_nm = self.rate_per_s(ahead), self.a_per_nm if ahead.torque_nm >= 0.0 else 0.0
        return Piece(seconds, start_deg, speed_deg_s, rate, ahead, self.run_a, a_per_nm, self.source)


class DataSheet(NamedTuple):
    """A motor's no-load and stall rows at one voltage: speed, torque and both currents."""

    speed_deg_s: float
    stall_nm: float
    run_a: float
    stall_a: float
    voltage_v: float

    def on(self, source: Source) -> Line:
        """Return the line on a supply: speed and torque in proportion to ``V_oc - R I``.

        The voltage falls with the current and so with the torque; the stall torque is where both lines meet.
        """
        a_per_nm = (self.stall_a - self.run_a) / self.stall_nm
        share = max(0.0, source.voltage_v - source.resistance_ohm * self.run_a) / self.voltage_v
        share_per_nm = 1.0 / self.stall_nm + source.resistance_ohm * a_per_nm / self.voltage_v
        return Line(share / share_per_nm, self.speed_deg_s * share_per_nm, self.run_a, a_per_nm, source)
