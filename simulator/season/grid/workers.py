"""Who does the work: threads or processes of this machine, or a cluster, used in one way."""

from __future__ import annotations

import asyncio
import logging
import multiprocessing.spawn
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.problems import Parameter, fault
from simulator.season.compiling import Announce
from simulator.season.grid.batch import version, version_here

if TYPE_CHECKING:
    import distributed

CALLS_PER_WORKER = 2  # calls handed out for each worker, so that none waits for the next
PROGRAM = 250_000_000  # bytes of a process with everything loaded
SECONDS_TO_CONNECT = 5
LOOPBACK = "127.0.0.1:0"  # what distributed tells of itself is for this machine alone
WORKER = "Dask Worker process"  # how distributed names the processes that it starts
_PREPARING = threading.Lock()
_POOLS: list[object] = []  # at work, of whose workers none is to import the user's main module
Call = tuple[Callable[..., Any], tuple[Any, ...]]


@dataclass
class WorkerPool:
    """Workers that take calls, a few at a time.

    Parameters
    ----------
    client : distributed.Client
    local : int
        Workers on this machine; 0 for a cluster.
    processes : bool
        Whether they are processes.
    most : int or None
        Calls handed out at a time; None for `CALLS_PER_WORKER` a worker.
    """

    client: distributed.Client
    local: int
    processes: bool
    most: int | None = None

    def limit(self, each: int, budget: int, announce: Announce) -> None:
        """Let no more batches be in work at a time than the memory of this machine has room for.

        Parameters
        ----------
        each : int
            Bytes of a batch in work.
        budget : int
            Bytes that may be used.
        announce : callable
            Told where workers will be idle.

        Raises
        ------
        InputError
            There is not room for one.
        """
        if not self.local:
            return
        programs = PROGRAM * (1 + self.local * self.processes)
        fit = (budget - programs) // each
        if fit < 1:
            raise fault(
                Parameter("memory"),
                f"A place's part of the grid takes {(programs + each) / 1e6:,.0f} MB, "
                f"and {budget / 1e6:,.0f} MB may be used.",
                "Allow more, or give fewer plans, years or fields at a time.",
            )
        if fit < self.local:
            announce(f"The memory allowed has room for {fit} of {self.local} workers at a time.")
        if fit < CALLS_PER_WORKER * self.local:
            self.most = fit

    def run(self, calls: Iterable[Call], done: Callable[[Any], object]) -> None:
        """Have calls done, handing out only a few at a time, so that their number does not matter.

        Parameters
        ----------
        calls : iterable of (function, arguments)
        done : callable
            Told what each gave, in the order in which they end.

        Raises
        ------
        InputError
            Workers that die again and again, or a cluster that is lost.
        """
        from distributed import KilledWorker, as_completed
        from distributed.comm.core import CommClosedError

        waiting = as_completed(loop=self.client.loop)
        left = iter(calls)
        out = 0
        try:
            while True:
                for function, arguments in islice(left, max(self._at_once() - out, 0)):
                    waiting.add(self.client.submit(function, *arguments, pure=False))
                    out += 1
                if not out:
                    return
                done(next(waiting).result())
                out -= 1
        except KilledWorker as error:
            raise fault(
                Parameter("workers"),
                "Workers died again and again at the same part of the grid.",
                "Most often their memory did not suffice: give fewer workers.",
            ) from error
        except CommClosedError as error:
            raise fault(
                Parameter("cluster"),
                "The cluster was lost.",
                "What is done is kept: the same command goes on.",
            ) from error

    def _at_once(self) -> int:
        """Return how many calls may be out; a cluster may grow and shrink."""
        workers = self.local or sum(self.client.nthreads().values())
        return self.most or CALLS_PER_WORKER * max(workers, 1)


@contextmanager
def worker_pool(
    workers: int | None, processes: bool, cluster: str | None, budget: int, folder: Path
) -> Iterator[WorkerPool]:
    """Start workers, or find those of a cluster, and let them go at the end.

    Parameters
    ----------
    workers : int or None
        As many as there are processors without it.
    processes : bool
        Rather than threads.
    cluster : str or None
        Address of a dask.distributed scheduler.
    budget : int
        Bytes that may be used on this machine.
    folder : Path
        Where the store is built; a cluster's workers must see it.

    Raises
    ------
    InputError
        A cluster that does not answer, has no workers, runs another version or does not see the
        folder.
    """
    import dask
    from distributed import Client, LocalCluster, Security

    count = workers or os.cpu_count() or 1
    quiet = {"distributed.worker.memory.terminate": False, "distributed.admin.tick.limit": "1h"}
    with dask.config.set(quiet):
        if cluster is not None:
            with _connected(cluster, folder) as client:
                yield WorkerPool(client, 0, True)
            return
        if processes:
            count = max(min(count, budget // PROGRAM - 1), 1)
        with _without_the_script():
            with _ctrl_c_is_ours():
                local = LocalCluster(
                    n_workers=count if processes else 1,
                    threads_per_worker=1 if processes else count,
                    processes=processes,
                    memory_limit=0,
                    dashboard_address=LOOPBACK,
                    worker_dashboard_address=LOOPBACK,
                    silence_logs=logging.CRITICAL,
                    # processes talk over sockets: only those that hold this run's keys are heard
                    security=Security.temporary() if processes else None,
                )
            with local, Client(local, set_as_default=False) as client:
                yield WorkerPool(client, count, processes)


@contextmanager
def _without_the_script() -> Iterator[None]:
    """Let workers start without running the script that asked for them.

    A new process imports the main module of the one that starts it. What workers are handed needs
    none of it, and a script without a main guard would ask for the grid again in each of them.
    Held as long as there are workers: one that died is started again.
    """
    spawn = multiprocessing.spawn
    with _PREPARING:
        if not _POOLS:
            spawn.get_preparation_data = partial(_preparation_data, spawn.get_preparation_data)
        _POOLS.append(pool := object())
    try:
        yield
    finally:
        with _PREPARING:
            _POOLS.remove(pool)
            if not _POOLS and isinstance(spawn.get_preparation_data, partial):
                (spawn.get_preparation_data,) = spawn.get_preparation_data.args


def _preparation_data(original: Callable[[str], dict[str, Any]], name: str) -> dict[str, Any]:
    """Return what a new process is given, for a worker without the main module to import."""
    data = original(name)
    if name.startswith(WORKER):
        data.pop("init_main_from_name", None)
        data.pop("init_main_from_path", None)
    return data


@contextmanager
def _ctrl_c_is_ours() -> Iterator[None]:
    """Let processes that are started here not hear Ctrl-C: they are told by this one what to do."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _connected(address: str, folder: Path) -> Iterator[distributed.Client]:
    from distributed import Client

    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        _try_connecting(address)
        client = Client(address, timeout=SECONDS_TO_CONNECT, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise fault(
            Parameter("cluster"),
            f"No scheduler answers at '{address}'.",
            "Start one with 'dask scheduler', and give the address that it shows, such as "
            "tcp://10.0.0.5:8786.",
        ) from error
    with client:
        found = client.run(version_here, str(folder), on_error="return")
        if not found:
            raise fault(
                Parameter("cluster"),
                f"The scheduler at '{address}' has no workers.",
                f"Start some with 'dask worker {address}'.",
            )
        for worker, reply in found.items():
            if isinstance(reply, BaseException):
                raise fault(
                    Parameter("cluster"),
                    f"Worker {worker} cannot run fallsown: {reply}.",
                    "Install it where the workers run.",
                )
            there, sees = reply
            if there != version():
                raise fault(
                    Parameter("cluster"),
                    f"Worker {worker} has fallsown {there}, here it is {version()}.",
                    "Install the same everywhere.",
                )
            if not sees:
                raise fault(
                    Parameter("cluster"),
                    f"Worker {worker} does not see '{folder}'.",
                    "Give a path on storage that all share.",
                )
        yield client


def _try_connecting(address: str) -> None:
    """Raise OSError, ValueError or TypeError where no scheduler can be reached at an address.

    A client that fails on an address it cannot read stays half open. Collected as garbage, it is
    closed by whichever thread that happens in; in one that a later grid starts, this waits for a
    lock which the starter of that thread holds, and that grid fails.
    """
    from distributed import Security
    from distributed.comm.core import connect

    async def attempt() -> None:
        keys = Security().get_connection_args("client")
        # connecting has a limit of its own, but none on how long a stranger ponders the greeting
        async with asyncio.timeout(SECONDS_TO_CONNECT):
            (await connect(address, **keys)).abort()

    # a thread of its own: that of a notebook has a loop running already
    with ThreadPoolExecutor(1) as other:
        other.submit(asyncio.run, attempt()).result()
