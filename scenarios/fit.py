"""What must fit together across sections: string, head and nut."""

from models.head.held import held
from scenarios.schema import Part


def misfit(string: Part, head: Part, nut: Part) -> str:
    """Return why the lengths of a string do not go with its nut and head in their worst corner, else ``""``."""
    shortest = string.drawn(lambda key: 0.0 if key.endswith("total_length_mm") else 1.0)
    try:
        held(shortest, head.nominal(), nut.drawn(lambda key: 1.0))
    except ValueError as error:
        return str(error)
    return ""
