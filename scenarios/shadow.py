"""Names a foreign module that hides one of ours, without importing it."""

from importlib.util import find_spec
from pathlib import Path

PACKAGES = ("sim", "models", "controllers", "scenarios")
HOME = Path(__file__).resolve().parents[1]


def impostor() -> str | None:
    """Return one line that names the first foreign package in place of ours; None when all four are ours."""
    for package in PACKAGES:
        found = _place(package)
        if found != HOME / package:
            return (
                f"the name '{package}' leads to {found or 'nothing'}, not to pegloop's own package in {HOME}; "
                "rename it, or start from another folder"
            )
    return None


def _place(package: str) -> Path | None:
    """Return the folder of a package, or the file of a module that has its name."""
    try:
        spec = find_spec(package)
    except ValueError:  # a module put together by hand, without a spec
        return None
    if spec is None or not spec.origin:
        return None
    origin = Path(spec.origin).resolve()
    return origin.parent if origin.name == "__init__.py" else origin
