"""A string as built and strung: tension from winding, pitch from tension, and where it breaks.

Law, to first order in strain: ``T = k x`` with winding ``x``, ``k = EA / total length``. The unit weight holds at the
target pitch and thins as the string is stretched further: ``mu(T) = mu_t (1 + T_t/EA) / (1 + T/EA)``. Bending stiffness
raises the first partial: ``f1^2 = (T + b) / (4 L^2 mu)``.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from models.component import component
from models.strings.material import breaking_tension_n
from models.strings.vibration import bending_term_n, effective_ratio, inharmonicity
from models.strings.winding import area_mm2
from models.units import cents

Pitch = Literal["first-partial", "effective"]

SLACK_N = 0.01  # below this tension a string has no pitch (0.1 % of the softest string of the library)


@component
class String:
    """One string of an instrument.

    Law: Mersenne ``T = mu (2 L f)^2``; winding ``T = (EA / total length) x``; breaks at strength x knot factor x area.

    Fails when: the string is new and creeps, is kinked or corroded, or sticks in the nut; none of that is in here.

    Source: the ``source`` of each value in the parts library.
    """

    target: str
    """Pitch to reach: a note ("E2"), a note with cents ("G3-3.9") or hertz ("195.6 Hz")."""

    gauge_mm: Annotated[float, Field(gt=0.05, lt=6)]
    """Outer diameter. Printed on the packet, or measure with a calliper."""

    core_mm: Annotated[float, Field(gt=0.05, lt=6)]
    """Diameter of the core that carries the tension; equal to the gauge of a plain string."""

    length_mm: Annotated[float, Field(gt=100, lt=2000)]
    """Speaking length from nut to saddle. Measure it."""

    total_length_mm: Annotated[float, Field(gt=100, lt=3000)]
    """Length that stretches, from post to anchor. Measure it."""

    unit_weight_g_per_m: Annotated[float, Field(gt=0.05, lt=100)]
    """Mass per length at playing tension. From the maker, or weigh a metre of it."""

    axial_stiffness_kn: Annotated[float, Field(gt=0.05, lt=500)]
    """EA: Young's modulus times core area. Turn the knob by one turn and note the cents, or take the material's."""

    bending_stiffness_gpa: Annotated[float, Field(ge=0, lt=400)]
    """Young's modulus that bends, which sets the inharmonicity. As the core's material."""

    strength_mpa: Annotated[float, Field(gt=10, lt=6000)]
    """Tensile strength of the core. From the wire standard or the maker."""

    knot_factor: Annotated[float, Field(gt=0.1, le=1)]
    """Share of the strength left at ball end, twist, knot and the bend at the post."""

    t60_s: Annotated[float, Field(gt=0.05, lt=60)]
    """Time in which the note falls by 60 dB. Record a pluck and look."""


@dataclass(frozen=True, slots=True)
class Strung:
    """A string on its post, in SI units: what the loop computes with."""

    target_hz: float
    stiffness_n_m: float
    winding_radius_m: float
    ea_n: float
    mass_n_s2: float
    """``4 L^2 mu`` without strain, so that ``f1^2 = (T + b)(1 + T/EA) / mass``."""
    bending_n: float
    breaking_n: float
    t60_s: float

    def tension_n(self, winding_m: float) -> float:
        """Return the tension of ``winding_m`` taken up since slack; 0 when slack."""
        return max(0.0, self.stiffness_n_m * winding_m)

    def first_partial_hz(self, tension_n: float) -> float:
        """Return the frequency of the first partial."""
        return math.sqrt((tension_n + self.bending_n) * (1.0 + tension_n / self.ea_n) / self.mass_n_s2)

    def effective_hz(self, tension_n: float) -> float:
        """Return the pitch that a period detector hears, above the first partial by the inharmonicity."""
        return self.first_partial_hz(tension_n) * effective_ratio(inharmonicity(self.bending_n, tension_n))

    def pitch_hz(self, tension_n: float, kind: Pitch) -> float | None:
        """Return the pitch at a tension, None when slack."""
        if tension_n < SLACK_N:
            return None
        return self.first_partial_hz(tension_n) if kind == "first-partial" else self.effective_hz(tension_n)

    def error_cents(self, tension_n: float, kind: Pitch) -> float:
        """Return the pitch error at a tension, nan when slack."""
        pitch_hz = self.pitch_hz(tension_n, kind)
        return math.nan if pitch_hz is None else cents(pitch_hz, self.target_hz)

    def tension_at_hz(self, first_partial_hz: float) -> float:
        """Return the tension whose first partial is ``first_partial_hz``: the positive root of a quadratic.

        Returns 0 when the string would have to be slack.
        """
        wanted = first_partial_hz**2 * self.mass_n_s2
        half = 0.5 * (self.ea_n + self.bending_n)
        return max(0.0, math.sqrt(half**2 + self.ea_n * (wanted - self.bending_n)) - half)

    def reserve_cents(self) -> float:
        """Return how far above its target the string breaks."""
        return 1200.0 * math.log2(self.first_partial_hz(self.breaking_n) / self.target_hz)

    def cents_per_post_degree(self, tension_n: float) -> float:
        """Return the slope of pitch over post angle, ``dc/dT * k r``."""
        per_newton = 600.0 / math.log(2.0) * (1.0 / (tension_n + self.bending_n) + 1.0 / (self.ea_n + tension_n))
        return per_newton * self.stiffness_n_m * self.winding_radius_m * math.pi / 180.0


def strung(string: String, winding_radius_mm: float, target_hz: float) -> Strung:
    """Put a string on a head that takes it up at a radius: that of a post and half the string's gauge."""
    length_m = string.length_mm * 1e-3
    ea_n = string.axial_stiffness_kn * 1e3
    at_target = 4.0 * length_m**2 * string.unit_weight_g_per_m * 1e-3
    bending_n = bending_term_n(string.bending_stiffness_gpa * 1e9, string.core_mm * 1e-3, length_m)
    strain = max(0.0, at_target * target_hz**2 - bending_n) / ea_n
    return Strung(
        target_hz=target_hz,
        stiffness_n_m=ea_n / (string.total_length_mm * 1e-3),
        winding_radius_m=winding_radius_mm * 1e-3,
        ea_n=ea_n,
        mass_n_s2=at_target * (1.0 + strain),
        bending_n=bending_n,
        breaking_n=breaking_tension_n(string.strength_mpa, string.knot_factor, area_mm2(string.core_mm)),
        t60_s=string.t60_s,
    )
