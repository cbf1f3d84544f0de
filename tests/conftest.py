"""What holds for every test: a machine that is busy makes none of them fail."""

from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")
