"""What lost motion does to a loop: empty moves, halving gone astray, and an integral that hunts.

Sources: describing function of play, any text on nonlinear control (Gelb & Vander Velde 1968; from memory, checked by
its Fourier integral in the tests).
"""

import cmath
import math

from controllers.theory_linear import response, root


def empty_moves(play_cents: float, move_cents: float) -> int:
    """Return the moves that a change of direction wastes: ``floor(B / move)``; the next one does what is left."""
    return math.floor(play_cents / move_cents + 1e-9)


def halving_error(play_cents: float, least_step_cents: float) -> float:
    """Return how far halving at every reading may end off when its steps have shrunk: ``B + s_least``."""
    return play_cents + least_step_cents


def play_gain(amplitude: float) -> complex:
    """Return the describing function of play for a swing of so many half gaps; 0 for a swing within the gap.

    ``1/pi (pi/2 + asin(1 - 2x) + 2 (1 - 2x) sqrt(x (1 - x))) - 4j/pi x (1 - x)`` with ``x`` = 1 / amplitude.
    """
    if amplitude <= 1.0:
        return 0j
    x = 1.0 / amplitude
    real = 0.5 + (math.asin(1.0 - 2.0 * x) + 2.0 * (1.0 - 2.0 * x) * math.sqrt(x * (1.0 - x))) / math.pi
    return complex(real, -4.0 / math.pi * x * (1.0 - x))


def play_hunting(gain: float, integral: float) -> tuple[float, float]:
    """Return peak to peak of the pitch, in plays, and period in readings, of a stable loop with integral and no delay.

    The harmonic balance ``L(e^jw) N(A) = -1``. It takes the swing for a sine, so that it only says that the loop hunts
    and about how slowly: against the sampled loop its swing is up to twice too wide, its period a fifth too short.
    """

    def asked(turn: float) -> complex:
        return -1.0 / response(gain, integral, 0, turn)

    def ahead(turn: float) -> float:
        return cmath.phase(asked(turn)) - cmath.phase(play_gain(_amplitude(abs(asked(turn)))))

    turn = root(ahead, 1e-6, root(lambda at: 1.0 - abs(asked(at)), 1e-6, math.pi))
    share = abs(asked(turn))
    return share * _amplitude(share), 2.0 * math.pi / turn


def _amplitude(share: float) -> float:
    """Return the swing in half gaps of which play lets a share (0 to 1) through."""
    return root(lambda amplitude: share - abs(play_gain(amplitude)), 1.0, 1e9)
