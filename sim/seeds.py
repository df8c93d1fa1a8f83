"""One tree of random streams, keyed by what a draw is for and not by when it is drawn.

One counter-based generator (Philox 4x64, Salmon et al. 2011) is moved to the key of a stream; all draws of a block are
taken at once. Two strategies on one specimen and tuning therefore meet the same plucks and the same noise.
"""

from functools import lru_cache
from hashlib import blake2b
from typing import Final, Protocol
from zlib import crc32

import numpy as np

from models.hearing.base import EarDraws

BLOCK: Final = 32  # plucks whose draws are taken together
NORMALS: Final = 4  # a pluck's: ear, level, time, first reading
SPECIMEN, START, RUN, PLUCKS, CHANCES, READINGS, GRIPS, COLOUR, SOUND, NOISE, CARRY, FAULT = range(12)  # never renumber


class Streams:
    """Random numbers of one seed."""

    def __init__(self, seed: int) -> None:
        digest = blake2b(f"pegloop {seed}".encode(), digest_size=16).digest()
        self._bits = np.random.Philox(key=int.from_bytes(digest, "little"))
        self._generator = np.random.Generator(self._bits)
        self._state = self._bits.state
        self._counter = self._state["state"]["counter"]

    def at(self, purpose: int, name: str, run: int = 0, block: int = 0) -> np.random.Generator:
        """Return the generator at the start of a stream; use it at once, the next call moves it."""
        self._counter[:] = (0, block, run, (_name_key(name) << 8) | purpose)
        self._state["buffer_pos"], self._state["has_uint32"] = 4, 0
        self._bits.state = self._state
        return self._generator

    def uniform(self, name: str, specimen: int) -> float:
        """Return the draw, 0 to 1, of one unknown of a specimen."""
        return float(self.at(SPECIMEN, name, specimen).random())

    def colour(self, string: str, specimen: int) -> np.random.Generator:
        """Return the stream of how a specimen's body colours a string, at its start; use it at once."""
        return self.at(COLOUR, string, specimen)

    def carry(self, string: str, run: int, visit: int) -> tuple[float, float]:
        """Return a standard normal for the time and a uniform for the slop of bringing the drive to a string."""
        stream = self.at(CARRY, string, run, visit)
        return float(stream.standard_normal()), float(stream.random())

    def start_uniform(self, string: str, run: int) -> float:
        """Return the draw, 0 to 1, of the starting pitch of one tuning."""
        return float(self.at(START, string, run).random())


class Tree(Protocol):
    """A seed that arranges its streams in a way of its own, such as machines that are crossed in one unknown."""

    @property
    def seed(self) -> int:
        """The number that it grows from."""
        ...

    @property
    def factors(self) -> tuple[str, ...]:
        """What its machines are crossed in."""
        ...

    def streams(self) -> Streams:
        """Return the streams."""
        ...


Seed = int | Tree


def number_of(seed: Seed) -> int:
    """Return the number that a seed is, or grows from."""
    return seed if isinstance(seed, int) else seed.seed


def streams_of(seed: Seed) -> Streams:
    """Return the random numbers of a seed."""
    return Streams(seed) if isinstance(seed, int) else seed.streams()


@lru_cache(maxsize=4096)
def _name_key(name: str) -> int:
    return crc32(name.encode())


def run_key(specimen: int, tuning: int) -> int:
    """Return the number that tells one tuning of one specimen from all others (both below 2^32)."""
    return (specimen << 32) | tuning


def visited(string: str, visit: int) -> str:
    """Return the name that draws of one visit (from 0) of a string go by; the first is the string's own."""
    return f"{string} again {visit}" if visit else string


class Chance:
    """All that is left to chance in one run: numbers by pluck and reading, whatever the strategy does."""

    def __init__(self, streams: Streams, string: str, run: int) -> None:
        self._streams, self._string, self._run = streams, string, run
        self._normals: dict[int, list[list[float]]] = {}
        self._uniforms: dict[int, list[list[float]]] = {}
        self._run_normal = float(streams.at(RUN, string, run).standard_normal())

    def pluck(self, number: int) -> tuple[float, float]:
        """Return standard normals for the time and the level of a pluck (from 0)."""
        row = self._pluck_row(number)
        return row[2], row[1]

    def reading(self, pluck: int, number: int) -> EarDraws:
        """Return the ear's draws for a reading (from 0) of a pluck (from 0)."""
        row = self._pluck_row(pluck)
        if number == 0:
            return EarDraws(self._run_normal, row[0], row[3], *self._chance_row(pluck))
        later = self._streams.at(READINGS, self._string, self._run, (pluck << 24) | number)
        normal = float(later.standard_normal())
        return EarDraws(self._run_normal, row[0], normal, float(later.random()), float(later.random()))

    def sound(self, pluck: int) -> np.random.Generator:
        """Return the stream of a pluck's sound (from 0), at its start; use it at once."""
        return self._streams.at(SOUND, self._string, self._run, pluck)

    def noise(self, pluck: int, number: int) -> np.random.Generator:
        """Return the stream of the noise in a reading (from 0) of a pluck (from 0), at its start; use it at once."""
        return self._streams.at(NOISE, self._string, self._run, (pluck << 24) | number)

    def grip(self, number: int) -> tuple[float, float]:
        """Return a standard normal for the time and a uniform for the slop position of a re-grip (from 0)."""
        stream = self._streams.at(GRIPS, self._string, self._run, number)
        return float(stream.standard_normal()), float(stream.random())

    def fault(self, name: str, number: int) -> float:
        """Return the draw, 0 to 1, of a fault at a reading (from 1; 0 before the first)."""
        return float(self._streams.at(FAULT, f"{self._string} {name}", self._run, number).random())

    def _pluck_row(self, number: int) -> list[float]:
        block = number // BLOCK
        if block not in self._normals:
            stream = self._streams.at(PLUCKS, self._string, self._run, block)
            self._normals[block] = stream.standard_normal((BLOCK, NORMALS)).tolist()
        return self._normals[block][number % BLOCK]

    def _chance_row(self, number: int) -> list[float]:
        block = number // BLOCK
        if block not in self._uniforms:
            stream = self._streams.at(CHANCES, self._string, self._run, block)
            self._uniforms[block] = stream.random((BLOCK, 2)).tolist()
        return self._uniforms[block][number % BLOCK]
