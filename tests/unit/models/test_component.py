"""Components are strict and frozen; names of kinds resolve, unknown ones do not."""

import math
from dataclasses import FrozenInstanceError
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from models.component import component, resolve
from models.coupler import Coupler
from models.motors import MOTORS
from models.supply import Supply


@pytest.mark.parametrize(
    "values",
    [
        {"slop_deg": "3", "regrip": True},
        {"slop_deg": True, "regrip": True},
        {"slop_deg": 3.0, "regrip": 1},
        {"slop_deg": 3.0, "regrip": "yes"},
        {"slop_deg": math.nan, "regrip": True},
        {"slop_deg": math.inf, "regrip": True},
        {"slop_deg": -0.1, "regrip": True},
        {"slop_deg": 90.1, "regrip": True},
        {"slop_deg": None, "regrip": True},
        {"slop_deg": 3.0},
        {"slop_deg": 3.0, "regrip": True, "colour": "red"},
    ],
    ids=repr,
)
def test_values_of_the_wrong_kind_or_range_are_refused(values: dict[str, Any]) -> None:
    with pytest.raises((ValidationError, TypeError)):
        Coupler(**values)


def test_a_whole_number_is_a_number() -> None:
    assert Coupler(slop_deg=3, regrip=False).slop_deg == 3.0


def test_components_cannot_be_changed() -> None:
    coupler = Coupler(slop_deg=3.0, regrip=True)
    with pytest.raises(FrozenInstanceError):
        coupler.slop_deg = 4.0
    assert coupler == Coupler(slop_deg=3.0, regrip=True)
    assert hash(coupler) == hash(Coupler(slop_deg=3.0, regrip=True))
    assert not hasattr(coupler, "__dict__")


def test_attribute_docstrings_become_the_schema() -> None:
    schema = TypeAdapter(Supply).json_schema()
    assert "open-circuit" in schema["properties"]["voltage_v"]["description"].lower()
    assert schema["additionalProperties"] is False


def test_arguments_go_by_name() -> None:
    @component
    class Part:
        """A part."""

        size_mm: float
        """Size."""

    with pytest.raises((ValidationError, TypeError)):
        Part(1.0)  # type: ignore[misc]


def test_kinds_resolve_by_name() -> None:
    assert resolve(MOTORS, "servo").__name__ == "PositionalServo"
    with pytest.raises(KeyError):
        resolve(MOTORS, "nonsense")
