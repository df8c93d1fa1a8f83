"""Drive trains for tests: every kind of head behind couplers that are rigid, give way or slip, with and without nut."""

import math

from hypothesis import strategies as st

from models.coupler import Twist
from models.drivetrain import Chain, chain
from models.head.base import Mechanism
from models.head.nut import Friction, friction
from models.strings.tension import Strung, strung
from tests.unit.models.test_drivetrain import STRING
from tests.unit.models.test_fine_adjuster import adjuster
from tests.unit.models.test_friction_peg import peg
from tests.unit.models.test_nut import nut

E4: Strung = strung(STRING, 4.0, 329.628)
WORM = Mechanism(14.0, 1.0 / (0.4055 * 14.0), 0.4205 / 14.0, backlash_deg=1.0, post_friction_nm=0.015)
LOOSE_WORM = Mechanism(14.0, 1.0 / (0.6269 * 14.0), -0.4254 / 14.0, backlash_deg=1.0, post_friction_nm=0.015)
HEADS = {
    "worm": WORM,
    "worm that does not lock": LOOSE_WORM,
    "peg": peg(axial_n=120.0).mechanism(),
    "flying peg": peg(axial_n=120.0, jump_share=1.8).mechanism(),
    "smooth peg": peg(axial_n=120.0, kinetic_share=1.0).mechanism(),
    "weak peg": peg(axial_n=30.0).mechanism(),
    "adjuster": adjuster().mechanism(),
}
NUTS = {
    "free": None,
    "slides": nut(friction=0.17, wrap_deg=14.0, kinetic_share=1.0),
    "jumps": nut(friction=0.17, wrap_deg=14.0, kinetic_share=0.7),
    "saddle": nut(
        friction=0.15, wrap_deg=12.0, saddle_friction=0.2, saddle_wrap_deg=25.0, kinetic_share=0.8, after_mm=40.0
    ),
}
COUPLINGS = st.builds(
    Twist,
    st.floats(0.0, 5.0),
    st.just(0.0) | st.floats(1.0, 100.0),
    st.just(math.inf) | st.floats(0.02, 1.0),
)


def held(name: str) -> Friction | None:
    """Return friction at nut and saddle."""
    return None if NUTS[name] is None else friction(NUTS[name], STRING.axial_stiffness_kn * 1e3, 0.648, 0.75)


def train(head: str, coupling: Twist, at: str = "free") -> Chain:
    """Return a drive train with a head and a nut of these tables."""
    string = strung(STRING, adjuster().winding_radius_mm(0.254), 329.628) if head == "adjuster" else E4
    return chain(string, HEADS[head], coupling, held(at))


TRAINS: st.SearchStrategy[Chain] = st.builds(
    train,
    st.sampled_from(sorted(HEADS)),
    COUPLINGS,
    st.sampled_from(sorted(NUTS)),
)
