"""Property tests repeat: the same examples at every run; ``pytest --hypothesis-profile search`` looks for new ones."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
settings.register_profile("search", derandomize=False)
settings.load_profile("repeatable")
