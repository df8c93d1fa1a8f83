"""Whole nanoseconds of everything that a run waits for, computed once a run."""

from dataclasses import dataclass

from models.hearing.base import Ear
from models.messages import Task
from models.units import to_ns
from scenarios.schema import Driving


@dataclass(frozen=True, slots=True)
class Waits:
    """Times of one rig and strategy in nanoseconds."""

    skip_ns: int
    window_ns: int
    hop_ns: int
    delivery_ns: int
    """From the close of a window to the reading's arrival."""
    dead_ns: int
    limit_ns: int


def waits(ear: Ear, driving: Driving, task: Task, delay_s: float) -> Waits:
    """Return the waits of an ear, a driving and a task, where readings take ``delay_s`` longer than they should."""
    return Waits(
        skip_ns=to_ns(ear.skip_s),
        window_ns=to_ns(ear.window_s),
        hop_ns=to_ns(ear.hop_s),
        delivery_ns=to_ns(ear.computing_s + ear.link_s + delay_s),
        dead_ns=to_ns(driving.dead_time_s),
        limit_ns=to_ns(task.time_limit_s),
    )
