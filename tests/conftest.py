"""What holds for every test: a machine that is busy makes none of them fail, and the same code gives the
same answer twice. `--hypothesis-profile=searching` looks for examples that nobody has tried yet."""

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.register_profile("searching", deadline=None)
settings.load_profile("house")
