"""What holds for every test: a machine that is busy makes none of them fail, and the same code gives the
same answer twice. `--hypothesis-profile=searching` looks for examples that nobody has tried yet."""

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.register_profile("searching", deadline=None)
settings.load_profile("house")


@pytest.fixture(scope="session")
def demo_result(tmp_path_factory):
    """The demo's job with its three faults, checked."""
    from proveout.parser.jobfile import read_job
    from proveout.sim.fitting import KNOWN
    from proveout.sim.verify import verify
    from proveout.viewer.demo.run import write_files
    folder = tmp_path_factory.mktemp("demo")
    write_files(folder)
    return verify(read_job(folder / "faulty" / "job.toml", KNOWN))
