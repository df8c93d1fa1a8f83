"""The processor as its contract words it: time is a sum of costs, memory a product."""

from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.detectors.base import Work
from models.hearing.processor import Processor


def made(**changed: object) -> Processor:
    fields = {
        "clock_mhz": 16.0, "memory_bytes": 1024, "cycles_per_butterfly": 50.0, "cycles_per_multiply": 30.0,
        "cycles_per_function": 600.0, "bytes_per_word": 2,
    }  # fmt: skip
    return Processor(**{**fields, **changed})


def test_each_kind_of_work_costs_its_cycles() -> None:
    assert made().seconds(Work(1.0, 0.0, 0.0, 0)) == approx(50.0 / 16e6)
    assert made().seconds(Work(0.0, 1.0, 0.0, 0)) == approx(30.0 / 16e6)
    assert made().seconds(Work(0.0, 0.0, 1.0, 0)) == approx(600.0 / 16e6)


counts = st.floats(0.0, 1e6)


@given(counts, counts, counts, st.floats(1.0, 500.0))
def test_time_adds_up_and_falls_with_the_clock(butterflies: float, multiplies: float, calls: float, mhz: float) -> None:
    parts = (Work(butterflies, 0, 0, 0), Work(0, multiplies, 0, 0), Work(0, 0, calls, 0))
    whole = made(clock_mhz=mhz).seconds(Work(butterflies, multiplies, calls, 0))
    assert whole == approx(sum(made(clock_mhz=mhz).seconds(part) for part in parts))
    assert made(clock_mhz=2.0 * mhz).seconds(Work(butterflies, multiplies, calls, 0)) == approx(whole / 2.0)


def test_memory_fits_up_to_its_last_byte() -> None:
    assert made().bytes_needed(Work(0, 0, 0, 512)) == 1024
    assert made().fits(Work(0, 0, 0, 512))
    assert not made().fits(Work(0, 0, 0, 513))
