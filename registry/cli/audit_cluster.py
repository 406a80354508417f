"""
An audit by several processes, on this machine or on others: dask carries the parts, and their placements.

Each partition of a dask-geopandas frame is one part with its halo. Workers read the registry's file
themselves; what comes back are the findings, in the order of one audit of the whole.
"""

import importlib.util
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry import __version__
from registry.actions.audit_parts import Part, halo_of, look_beyond, plan_parts, put_together
from registry.actions.audit_registry import Audit
from registry.cli.audit_worker import WRITTEN_MEANWHILE, Asked, judge, load, look, placements_of_part
from registry.errors import RequestError, UnavailableError
from registry.records.audit_summary import MOST_FINDINGS
from registry.rules.catalogue import conditions_of
from registry.storage.held_interrupts import interrupts_held
from registry.storage.placement_parts import PlacementParts, boxes_around

if TYPE_CHECKING:
    from registry.records.permit import Permit
    from registry.storage.register import GeoPackageRegister

__all__ = ["audit_on_workers", "insist_on_dask"]

#: How long a scheduler may take to be reached at all, and to take a client in. Units: s.
REACH_S, PATIENCE_S = 10, 20
#: How often it is looked whether there are workers (units: s), and how often in a row there may be none.
LOOK_S, MOST_ALONE = 5.0, 6


def insist_on_dask(option: str) -> None:
    """
    Refuse where what an audit by several processes needs is not installed.

    Raises
    ------
    RequestError
        With how to install it.
    """
    for name in ("dask_geopandas", "distributed", "pyarrow"):
        if importlib.util.find_spec(name) is None:
            what = f"{option} needs {name.replace('_', '-')}, which is not installed here."
            raise RequestError(what, remedy='Install it with: pip install "leadline[bulk]"')


def audit_on_workers(
    register: "GeoPackageRegister",
    file: Path,
    *,
    workers: int | None,
    scheduler: str | None,
    permit: str | None,
    on: datetime | None,
    every_sentence: bool | None,
    progress: Callable[[int], None],
) -> Audit:
    """
    Audit part by part on workers; the findings are those of ``audit_registry``, to the last bit.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, within one `reading()`.
    file : Path
        Where it lies, for the workers too.
    workers : int, optional
        How many processes to start on this machine.
    scheduler : str, optional
        Address of a dask scheduler instead.
    permit, on
        As of ``audit_registry``.
    every_sentence : bool, optional
        Whether what conforms is told in words as well; None where files decide that by how much there is.
    progress : callable
        Told how many placements are done.

    Raises
    ------
    UnavailableError
        If the scheduler or a worker cannot be reached, dies, or does not see this state of the registry.
    """
    history = register.permit_history() if permit is None else (register.permit_versions(permit),)
    parts = PlacementParts(register)
    counts = parts.counts(until=on)
    asked = Asked(
        file=str(file.resolve()),
        head=register.head(),
        now=register.now(),
        rest=look_beyond(register, parts, on=on),
        in_full=_is_told_in_full(history, counts) if every_sentence is None else every_sentence,
    )
    with _client(workers, scheduler) as client:
        _insist_that_all_see(client, asked)
        plan = plan_parts(history, counts, workers=len(client.scheduler_info(n_workers=-1)["workers"]))
        judged = _judged(client, plan, history, asked, frame=register.programme().frame)
        return put_together(history, judged, head=asked.head, progress=progress)


def _is_told_in_full(history: "Sequence[Sequence[Permit]]", counts: Mapping[str, int]) -> bool:
    """Tell whether there may be so few findings that files hold them all."""
    least = sum(
        counts.get(versions[0].number, 0) * min(len(conditions_of(version)) for version in versions)
        for versions in history
    )
    return bool(least <= MOST_FINDINGS)


def _judged(
    client: Any, plan: Sequence[Part], history: "Sequence[Sequence[Permit]]", asked: Asked, *, frame: str
) -> Iterator[Any]:
    """Give the audit of each part as it is done."""
    import dask
    import dask.dataframe
    from distributed.scheduler import KilledWorker

    # As a step of its own: what is only scattered is lost with the workers that hold it.
    known = dask.delayed(asked, traverse=False)
    placements = dask.dataframe.from_delayed(
        [dask.delayed(placements_of_part)(part, known) for part in plan],
        meta=_nothing(frame),
        verify_meta=False,
    )
    placements.spatial_partitions = _grounds(plan, history, asked, frame)
    tasks = [
        dask.delayed(judge)(partition, part, known)
        for partition, part in zip(placements.to_delayed(), plan, strict=True)
    ]
    try:
        for future in client.compute(tasks):
            found = _result(client, future)
            future.release()
            yield found
    except KilledWorker as error:
        what = "A worker died more than once over the same part, most likely for want of memory."
        remedy = "Give fewer --workers, so that each has more memory, or workers on larger machines."
        raise UnavailableError(what, remedy=remedy) from error
    except (OSError, CancelledError) as error:
        what = f"The workers were lost ({_on_one_line(error)})."
        raise UnavailableError(
            what, remedy="Look after the scheduler and its workers; run it again."
        ) from error


def _result(client: Any, future: Any) -> Any:
    """Wait for a result as long as there is anybody to give it: dask itself would wait for ever."""
    alone = 0
    while alone < MOST_ALONE:
        try:
            return future.result(timeout=LOOK_S)
        except TimeoutError:
            alone = 0 if client.scheduler_info(n_workers=-1)["workers"] else alone + 1
    raise ConnectionError("none is left, and none has come in their place")


def _nothing(frame: str) -> Any:
    """Give a frame without rows, whose columns are those of every part."""
    from geopandas import GeoDataFrame
    from pandas import Series

    from registry.records.placement import PlacementTable

    empty = PlacementTable()
    columns = {name: getattr(empty, name) for name in PlacementTable.__dataclass_fields__}
    return GeoDataFrame(
        {name: Series(column, dtype=column.dtype) for name, column in columns.items()}, geometry=[], crs=frame
    )


def _grounds(plan: Sequence[Part], history: "Sequence[Sequence[Permit]]", asked: Asked, frame: str) -> Any:
    """Give where each part is meant to lie, halo included; whatever lies elsewhere stays with its permit."""
    import shapely
    from geopandas import GeoSeries

    versions_of = {versions[0].number: versions for versions in history}
    grounds = []
    for part in plan:
        own = [versions_of[number] for number in part.permits]
        bounds = [area.shape.bounds for versions in own for permit in versions for area in permit.areas]
        lon = [lon for west, _, east, _ in bounds for lon in (west, east)]
        lat = [lat for _, south, _, north in bounds for lat in (south, north)]
        boxes = boxes_around(lon, lat, halo_of(own, asked.rest))
        grounds.append(shapely.union_all([shapely.box(w, s, e, n) for w, e, s, n in boxes]).convex_hull)
    return GeoSeries(grounds, crs=frame)


def _insist_that_all_see(client: Any, asked: Asked) -> None:
    """Refuse workers of another version, or that do not see the registry as it is audited."""
    for address, (version, wrong) in client.run(look, asked.file, asked.head).items():
        if version != __version__:
            what = f"The worker at {address} runs Leadline {version}; this is {__version__}."
            raise UnavailableError(what, remedy="Install the same version on every machine.")
        if wrong:
            what = f"The worker at {address} cannot audit this registry: {wrong}"
            remedy = f"Every worker must see the registry under this very path. {WRITTEN_MEANWHILE}"
            raise UnavailableError(what, remedy=remedy)


@contextmanager
def _client(workers: int | None, scheduler: str | None) -> Iterator[Any]:
    """Give a connection to the workers; those that were started for it end with it."""
    import logging

    import dask

    # What falls silent with a connection that ends is no news: what matters is raised.
    logging.getLogger("asyncio").setLevel(logging.CRITICAL)
    # Words stay the objects that they are: nothing is gained by turning them round twice.
    load()
    with dask.config.set({"dataframe.convert-string": False}):
        if scheduler is not None:
            with _connected(scheduler) as client:
                yield client
        else:
            with _own_workers(workers or 1) as cluster, _connected(cluster) as client:
                yield client


@contextmanager
def _connected(to: Any) -> Iterator[Any]:
    from distributed import Client

    try:
        if isinstance(to, str):
            _reach(to)
        client = Client(to, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError, TypeError, ImportError) as error:
        what = f"There is no dask scheduler at {to} ({_on_one_line(error)})."
        remedy = "Start one, and workers, and give its address as tcp://HOST:PORT; or give --workers N."
        raise UnavailableError(what, remedy=remedy) from error
    try:
        plugin = _loading()
        client.register_plugin(plugin)
        yield client
        client.unregister_worker_plugin(plugin.name)
    finally:
        _close(client)


def _reach(address: str) -> None:
    """Insist that somebody answers, before a client is made: a half-made one tells of its end by itself."""
    import asyncio

    from distributed.comm import connect
    from distributed.security import Security

    async def knock() -> None:
        comm = await connect(address, timeout=REACH_S, **Security().get_connection_args("client"))
        await comm.close()

    asyncio.run(knock())


def _loading() -> Any:
    """Have every worker, also one that takes the place of another, load what it needs before it begins."""
    from distributed import WorkerPlugin

    class Loading(WorkerPlugin):  # type: ignore[misc]  # dask is typed in part only
        name = "leadline"

        def setup(self, worker: Any) -> None:
            del self, worker
            load()

    return Loading()


@contextmanager
def _own_workers(count: int) -> Iterator[Any]:
    """Start processes that hear of nobody but this one, and end them, whatever comes."""
    import logging
    import tempfile

    import dask
    from distributed import LocalCluster
    from distributed.security import Security

    with ExitStack() as until:
        folder = until.enter_context(tempfile.TemporaryDirectory(prefix="leadline-"))
        until.enter_context(dask.config.set({"temporary-directory": folder}))
        try:
            with _deaf_to_interrupts():
                cluster = LocalCluster(
                    n_workers=count,
                    threads_per_worker=1,
                    processes=True,
                    host="127.0.0.1",
                    # Whoever speaks to a scheduler runs what they like: no other account of this machine may.
                    protocol="tls://",
                    security=Security.temporary(),
                    # Any free port of this machine: the usual one may be another's.
                    dashboard_address="127.0.0.1:0",
                    scheduler_kwargs={"dashboard": False},
                    local_directory=folder,
                    silence_logs=logging.CRITICAL,
                )
                until.callback(_close, cluster)
        except (RuntimeError, OSError) as error:
            what = f"The workers could not be started ({_on_one_line(error)})."
            remedy = "Give fewer --workers, or leave it out: the findings are the same."
            raise UnavailableError(what, remedy=remedy) from error
        yield cluster


def _close(each: Any) -> None:
    """Close a connection, or a cluster with its processes, whatever keys are pressed meanwhile."""
    with interrupts_held():
        each.close()


def _on_one_line(error: BaseException) -> str:
    return " ".join(str(error).split()).rstrip(".") or type(error).__name__


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """
    Have threads and processes that are started meanwhile not hear Ctrl-C, which a terminal sends to all.

    It is for this process alone to hear it, to end them in order and to tell of it once.
    """
    import signal

    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    # Started later it would listen again, and with it whatever its thread starts.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
