"""Processes that compute chunks.  Imports nothing heavy, because a process is set up before it loads the rest."""

from __future__ import annotations

import asyncio
import gc
import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING

from service.edge.body_limits import USUAL, BodyLimits

if TYPE_CHECKING:
    from schemas.details import Detail
    from service.batches.answered import Answered
    from service.batches.lines import Chunk

logger = logging.getLogger(__name__)


def processors() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def prepare_process(load: Callable[[], None]) -> None:
    """Make a new process ready to compute, and make sure that it ends with its parent."""
    # Only the service obeys a signal to the whole group; it ends its own processes.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()
    load()
    # What is loaded by now stays, so the collector need not walk through it while a client waits.
    gc.collect()
    gc.freeze()


def _set_up() -> None:
    prepare_process(_load)


def _load() -> None:
    from service.batches.warm_up import warm_up  # noqa: PLC0415

    warm_up()


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def _answer(chunk: Chunk, detail: Detail, limits: BodyLimits) -> Answered:
    from service.batches.answers import answer_chunk  # noqa: PLC0415

    return answer_chunk(chunk.lines, detail, chunk.first, limits)


def _pool(processes: int, set_up: Callable[[], None]) -> ProcessPoolExecutor:
    # Spawned, because a fork of a process with threads (of the server, of the linear algebra) may deadlock.
    return ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), initializer=set_up)


def _kill(executor: Executor) -> None:
    """End its processes at once, without waiting for one that computes or hangs."""
    # From Python 3.14 on: kill_workers().
    of_pool: dict[int, BaseProcess] | None = getattr(executor, "_processes", None)
    for process in (of_pool or {}).copy().values():
        process.kill()


class Workers:
    """A pool of processes, started by the first chunk; a thread if there are to be no processes."""

    def __init__(
        self,
        processes: int,
        limits: BodyLimits = USUAL,
        set_up: Callable[[], None] = _set_up,
    ) -> None:
        self.processes = processes
        self._limits, self._set_up = limits, set_up
        self._executor: Executor | None = None
        self._executors: set[Executor] = set()  # also that of a chunk tried alone
        self._alone = asyncio.Lock()

    @property
    def at_once(self) -> int:
        """Chunks that one batch may have in the pool: one for each process and one in reserve."""
        return max(1, self.processes) + 1

    async def answer(self, chunk: Chunk, detail: Detail) -> Answered:
        """The answers to a chunk.

        A chunk whose process dies is tried once more in a process of its own, so that it harms no other; if
        that process dies too, each line is answered by a problem.
        """
        executor = self._executor = self._executor or self._new()
        try:
            return await self._run(executor, chunk, detail)
        except BrokenExecutor:
            logger.warning("a batch process died while computing the chunk at line %d", chunk.first)
        if self._executor is executor:
            self._executor = None
            self._executors.discard(executor)
            executor.shutdown(wait=False)
        async with self._alone:
            alone = _pool(1, self._set_up)
            self._executors.add(alone)
            try:
                return await self._run(alone, chunk, detail)
            except BrokenExecutor:
                logger.error(
                    "two batch processes died while computing lines %d to %d",
                    chunk.first,
                    chunk.end - 1,
                )
            finally:
                alone.shutdown(wait=False)
                self._executors.discard(alone)
        from service.batches.answers import failed_chunk  # noqa: PLC0415

        return failed_chunk(chunk.lines, chunk.first)

    def close(self) -> None:
        """End all processes; what they compute is lost."""
        for executor in self._executors:
            _kill(executor)
            executor.shutdown(wait=True, cancel_futures=True)
        self._executors.clear()
        self._executor = None

    def _new(self) -> Executor:
        new = _pool(self.processes, self._set_up) if self.processes else ThreadPoolExecutor(1)
        self._executors.add(new)
        return new

    async def _run(self, executor: Executor, chunk: Chunk, detail: Detail) -> Answered:
        return await asyncio.wrap_future(executor.submit(_answer, chunk, detail, self._limits))
