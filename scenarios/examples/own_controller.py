"""A law of one's own against a shipped one, on the same strings, plucks and noise."""

from dataclasses import dataclass

from models.messages import LISTEN, Command, Reading, Task, Turn
from sim import compare, load_rig


@dataclass(frozen=True)
class Careful:
    """Turn against the error, at most 30 degrees at a time."""

    gain_deg_per_cent: float = 0.4

    def start(self, task: Task, kept: None = None) -> None:
        """Return no memory."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return the next turn."""
        if reading.cents is None or abs(reading.cents) < 2:
            return LISTEN, None
        return Turn(max(-30.0, min(30.0, -self.gain_deg_per_cent * reading.cents))), None


if __name__ == "__main__":
    rig = load_rig("default", plugins={"careful": Careful}, changes=["strategies.careful.kind=careful"])
    result = compare(rig, strategies=["proportional", "careful"], specimens=10, tunings=1, jobs=1)
    for strategy in result.summary["strategies"]:
        share, plucks = strategy["in_tune"], strategy["plucks"]
        print(f"{strategy['name']}: {share['count']} of {share['of']} in tune, {plucks['median']:.0f} plucks")
