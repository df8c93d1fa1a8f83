"""Bad usage or a bad file: lines to show, and nothing done."""


class Refused(Exception):
    """What the user gave cannot be used; each line says one reason.

    ``placed`` lines begin with the place of the fault, as editors like it, and get no name of a program before it.
    """

    def __init__(self, *lines: str, placed: bool = False) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines if placed else tuple(f"pegloop: {line}" for line in lines)


def unknown(what: str, word: str, known: "list[str] | tuple[str, ...]") -> Refused:
    """Return a refusal of an unknown name that offers the nearest known ones."""
    from difflib import get_close_matches

    lower = {name.lower(): name for name in known}
    near = [lower[name] for name in get_close_matches(word.lower(), lower, n=3, cutoff=0.5)]
    hint = f"did you mean {' or '.join(near)}?" if near else f"known: {', '.join(known)}"
    return Refused(f"unknown {what} '{word}'; {hint}")
