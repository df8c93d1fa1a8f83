"""The one decorator for parts with parameters, and number types that carry their range.

A component is a frozen, slotted, validated dataclass. The class is at once the Python object, the schema of its TOML
table and its documentation: every attribute docstring says what the number is and where to find it.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Annotated, Any, TypeVar, dataclass_transform

from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass

T = TypeVar("T")

Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]
Share = Annotated[float, Field(ge=0, le=1)]

_CONFIG = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(Field,))
def component(cls: type[T]) -> type[T]:
    """Make ``cls`` a component: strict types, no unknown keys, no inf or nan, immutable.

    Raises pydantic's ``ValidationError`` when an instance is built from values outside their ranges.
    """
    make: Callable[[type[T]], Any] = dataclass(frozen=True, slots=True, kw_only=True, config=_CONFIG)
    made: type[T] = make(cls)
    return made


def resolve(registry: dict[str, str], name: str) -> type[Any]:
    """Return the class that ``registry`` lists under ``name`` as ``"module:Class"``, importing only its module.

    Raises ``KeyError`` for a name that the registry lacks.
    """
    module, _, attribute = registry[name].partition(":")
    found: type[Any] = getattr(import_module(module), attribute)
    return found
