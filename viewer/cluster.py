"""`--cluster ADDRESS`: the jobs of a library on a Dask cluster.

The law: no scheduler of our own. Dask's client stands in for the processes of this computer; what it runs is
the same function, and every worker has the same version of proveout or none of them is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from importlib.metadata import PackageNotFoundError, version

from .errors import Refused

PATIENCE = 10  # s until a cluster that does not answer is given up


@contextmanager
def on_cluster(address: str) -> Iterator[Executor]:
    """Something that runs functions on the cluster's workers. Raises Refused where that cannot be."""
    try:
        from distributed import Client
    except ImportError:
        raise Refused('--cluster needs what comes with the extra: pip install "proveout[cluster]"') from None
    try:
        client = Client(address, timeout=PATIENCE)
    except (OSError, ValueError, TimeoutError) as failed:
        raise Refused(f"--cluster {address}: no cluster answers there ({failed})") from None
    with client:
        same_version(dict(client.run(installed)), address)  # type: ignore[arg-type]
        yield client.get_executor(pure=False)


def installed() -> str:
    """The version of proveout on the computer that asks, "none" where it is not installed."""
    try:
        return version("proveout")
    except PackageNotFoundError:
        return "none"


def same_version(found: dict[str, str], address: str) -> None:
    """Raises Refused where a worker has another version than this one, or where there is no worker."""
    here = installed()
    if not found:
        raise Refused(f"--cluster {address}: this cluster has no workers")
    for worker, there in sorted(found.items()):
        if there != here:
            raise Refused(f"--cluster {address}: the worker {worker} has proveout {there}, here is {here}; "
                          "install the same on both")
