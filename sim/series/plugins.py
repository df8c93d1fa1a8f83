"""A user's own class from a file: importable by one stable name here and in every worker."""

import sys
from contextlib import redirect_stdout
from hashlib import blake2b
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType
from typing import Any, Final

Plugin = tuple[str, str, str]
"""Name given on the command line, path of the file, name of the class."""


PREFIX: Final = "pegloop_plugin_"
"""How the names of modules begin that come from a user's file."""


def load_plugin(path: str, class_name: str) -> type[Any]:
    """Return a class from a Python file; its folder is not put on ``sys.path``.

    The module's name follows from the resolved path, so that a pickle of the class means the same in a worker that has
    loaded the same file. What it prints goes to stderr. Raises ``ValueError`` (one line) when the file is missing,
    fails, or lacks the class.
    """
    found = getattr(_module(Path(path).resolve()), class_name, None)
    if not isinstance(found, type):
        raise ValueError(f"{path}: has no class {class_name}")
    return found


def _module(path: Path) -> ModuleType:
    name = f"{PREFIX}{blake2b(str(path).encode(), digest_size=8).hexdigest()}"
    if name in sys.modules:
        return sys.modules[name]
    spec = spec_from_file_location(name, path) if path.suffix == ".py" else None
    if spec is None or spec.loader is None or not path.is_file():
        raise ValueError(f"{path}: is no Python file; wanted NAME=path/to/file.py:Class")
    module = module_from_spec(spec)
    sys.modules[name] = module
    try:
        with redirect_stdout(sys.stderr):
            spec.loader.exec_module(module)
    except (Exception, SystemExit) as error:
        del sys.modules[name]
        raise ValueError(f"{path}: cannot be imported: {type(error).__name__}: {error}") from error
    return module
