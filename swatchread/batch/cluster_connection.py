"""The connection to the scheduler of a dask cluster, made only if its workers can take part."""

from __future__ import annotations

import logging
import socket
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from pebble.concurrent import thread as in_thread

from swatchread import __version__
from swatchread.batch.photo_addresses import CLUSTER_EXTRA
from swatchread.errors import ClusterError, ClusterWorkerError, MissingPackageError, UsageError

CONNECT_SECONDS = 10.0
"""How long a scheduler may take to answer; one that is there answers within a second."""


def connected(address: str) -> Any:
    """Return a client of a scheduler whose workers can take part.

    Raises
    ------
    MissingPackageError, UsageError, ClusterError, ClusterWorkerError
        See `swatchread.batch.cluster_pool.ClusterPool`.
    """
    what = f"The cluster at {address} cannot be reached"
    try:
        from distributed import Client
    except ImportError as error:
        raise MissingPackageError(what, "dask is not installed", f"Install it: {CLUSTER_EXTRA}") from error
    for name in ("distributed", "distributed.client"):  # what matters is told in our own words
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        _knock(address)
        # Where something else than a scheduler listens, the constructor may never come back.
        begin: Callable[..., Future[Any]] = in_thread(Client)
        client = begin(address, timeout=CONNECT_SECONDS, set_as_default=False).result(2.0 * CONNECT_SECONDS)
    except ValueError as error:
        raise UsageError(what, str(error), "Give the address that the scheduler prints: tcp://HOST:PORT") from error
    except OSError as error:  # a time limit is one, too
        raise ClusterError(what, error.strerror or str(error) or "what listens there does not answer") from error
    try:
        _require_version(client)
    except BaseException:
        client.close()
        raise
    return client


def _knock(address: str) -> None:
    """Ask whether anything listens there: this answers sooner than a client does, and says why not."""
    from distributed.comm.addressing import parse_address, parse_host_port
    from distributed.comm.registry import get_backend

    scheme, location = parse_address(address)
    get_backend(scheme)
    if scheme in {"tcp", "tls"}:
        socket.create_connection(parse_host_port(location), CONNECT_SECONDS).close()


def _require_version(client: Any) -> None:
    from importlib.metadata import version

    for worker, found in client.run(version, "swatchread", on_error="return").items():
        if found != __version__:
            has = "no swatchread" if isinstance(found, Exception) else f"swatchread {found}"
            why = f"it has {has}, and this is {__version__}"
            raise ClusterWorkerError(f"The worker {worker} cannot take part", why)
