"""Other processes to work with: so that a refresh uses two cores, and no file takes the tool along.

Python runs one thread at a time, and much of a refresh is Python: loading libraries, reading a pile of small files,
the estimates. And a file may be made so that reading it fills the memory, never ends, or ends the process by a library:
so files are read over there, one thing at a time, while this process watches the other's time and memory. Where it
dies or has to be ended, a new one goes on with what is left.

Ask for workers before importing what is slow to load; the others then load it at the same time.
"""

import os
import pickle
import signal
import subprocess
import sys
import time
import traceback
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from importlib import import_module
from queue import Empty, SimpleQueue
from threading import Lock, Thread
from typing import IO, Any, TypeVar

Item = TypeVar("Item")
Done = TypeVar("Done")

READERS = 2
"""Processes that read files: with the one that asks, as many as keep two cores busy from the first moment."""

LOADED_FIRST = "pipeline.refresh.read_files"

_LOOK_S = 0.05

_BEGIN = "import sys; sys.path[:] = sys.argv[1:]; from pipeline.processes.workers import serve; serve()"
_LENGTH = 8


@dataclass(frozen=True)
class Limit:
    """What one piece of work may take: seconds of work, bytes of memory beside what the process held before, and how
    many times its seconds by the clock: a busy machine lets a process wait, a slow disk too."""

    seconds: float
    memory: int
    times_by_clock: int = 30

    @property
    def clock(self) -> float:
        """Seconds by the clock, at most."""
        return self.seconds * self.times_by_clock


class TooMuchError(Exception):
    """Work that was ended because it went over its limit."""


class DiedError(Exception):
    """Work in the midst of which its process died."""


@dataclass
class _Job:
    work: Callable[..., Any]
    given: tuple[Any, ...]
    limit: Limit | None = None
    future: "Future[Any]" = field(default_factory=Future)


@contextmanager
def other_processes(count: int = READERS, at_once: bool = True) -> Iterator["Workers"]:
    """Other processes to hand work to, while the block runs. None of them outlives it, nor this process.

    They begin `at_once`, to be ready when they are wanted, or each with its first work.
    """
    workers = Workers(count, at_once)
    try:
        yield workers
    finally:
        workers.shutdown()


class Workers(Executor):
    """So many other processes. What is handed over must be a function of a module and arguments that can be pickled."""

    def __init__(self, count: int = READERS, at_once: bool = True) -> None:
        self.at_once = at_once
        self._workers = [_Worker(at_once) for _ in range(count)]

    def submit(self, work: Callable[..., Any], /, *args: Any, **named: Any) -> "Future[Any]":
        """Have it done by the first of them, in turn."""
        assert not named
        return self.within(None, work, *args)

    def within(self, limit: Limit | None, work: Callable[..., Done], *args: Any) -> "Future[Done]":
        """The same within a limit: the future raises `TooMuchError` or `DiedError`, and what comes after is done."""
        job = _Job(work, args, limit)
        self._workers[0].waiting.put(deque([job]))
        return job.future

    def share(
        self, work: Callable[[Item], Done], items: Iterable[Item], limit: Callable[[Item], Limit]
    ) -> "list[Future[Done]]":
        """`work` of each item by whichever process is free, each within its limit."""
        jobs = [_Job(work, (item,), limit(item)) for item in items]
        pile = deque(jobs)
        for worker in self._workers:
            worker.waiting.put(pile)
        return [job.future for job in jobs]

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = True) -> None:
        """End them all, whatever they do."""
        for worker in self._workers:
            worker.end()


class _Worker:
    """One other process and the thread here that workers work to it, piece by piece."""

    def __init__(self, at_once: bool) -> None:
        self._at_once = at_once
        self.waiting: SimpleQueue[deque[_Job] | None] = SimpleQueue()
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: SimpleQueue[bytes | None] = SimpleQueue()
        self._greeted = self._over = False
        self._changing = Lock()
        Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        if self._at_once:
            self._begin()
        while (jobs := self.waiting.get()) is not None:
            while jobs and not self._over:
                try:
                    job = jobs.popleft()
                except IndexError:  # another took the last one
                    break
                if job.future.set_running_or_notify_cancel():
                    self._do(job)

    def _begin(self) -> None:
        """In the thread that stays: Linux ends a process with the thread that began it."""
        path = [place or os.getcwd() for place in sys.path]  # noqa: PTH109 (a text is wanted)
        with self._changing:
            if self._over:
                return
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-c", _BEGIN, *path],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,  # what a library says there may hold what stands in a cell
            )
            self._answers, self._greeted = SimpleQueue(), False
        Thread(target=_listen, args=(self._process.stdout, self._answers), daemon=True).start()

    def _do(self, job: _Job) -> None:
        try:
            given = pickle.dumps((job.limit and job.limit.clock, job.work, job.given))
            value, error, told = pickle.loads(self._asked(given, job.limit))
        except Exception as raised:
            job.future.set_exception(raised)
            return
        if error is None:
            job.future.set_result(value)
            return
        error.add_note(told)
        job.future.set_exception(error)

    def _asked(self, given: bytes, limit: Limit | None) -> bytes:
        process = self._ready()
        assert process.stdin
        with suppress(OSError):  # it died just now: its answers end
            _put(process.stdin, given)
        watch = _Watch(process.pid, limit)
        while True:
            try:
                answer = self._answers.get(timeout=_LOOK_S)
                break
            except Empty:
                pass
            if why := watch.over():
                self._kill()
                raise TooMuchError(why)
        if answer is None:
            self._kill()
            raise DiedError
        return answer

    def _ready(self) -> "subprocess.Popen[bytes]":
        """The process once it has said that it is ready: what it takes counts from there."""
        if self._process and self._greeted and self._process.poll() is not None:
            self._kill()  # it was ended while it had nothing to do
        if self._process is None:
            self._begin()
        if not self._process or (not self._greeted and self._answers.get() is None):
            self._kill()
            raise RuntimeError("The process that reads files could not be begun.")
        self._greeted = True
        return self._process

    def _kill(self) -> None:
        with self._changing:
            process, self._process = self._process, None
        if process:
            process.kill()
            process.wait()
            with suppress(OSError):
                process.stdin.close()  # type: ignore[union-attr]

    def end(self) -> None:
        self._over = True
        self.waiting.put(None)
        self._kill()


class _Watch:
    """The work and the memory that a process takes from now on."""

    def __init__(self, process: int, limit: Limit | None) -> None:
        import psutil  # here: it takes a while to load, and most of that time the other process loads too

        self._gone, self._denied = psutil.Error, psutil.AccessDenied
        self._limit = limit
        self._begun = time.monotonic()
        with suppress(psutil.Error):
            self._process = psutil.Process(process)
            self._bytes = self._process.memory_info().rss
            self._before = self._seconds()

    def over(self) -> str:
        """Why its limit is passed, as a sentence; "" while it is not."""
        if not self._limit:
            return ""
        with suppress(self._gone, AttributeError):
            if self._process.memory_info().rss - self._bytes > self._limit.memory:
                return f"It takes more than {self._limit.memory / 2**20:,.0f} MB of memory to read."
            if self._worked() > self._limit.seconds:
                return f"It takes more than {self._limit.seconds:,.0f} seconds to read."
        over = time.monotonic() - self._begun > self._limit.clock
        return f"It takes more than {self._limit.clock:,.0f} seconds to read." if over else ""

    def _worked(self) -> float:
        """Seconds that its busiest thread has worked. The sum of all says little: a library begins one for each core,
        and those that wait for work spin."""
        return max(seconds - self._before.get(thread, 0.0) for thread, seconds in self._seconds().items())

    def _seconds(self) -> dict[int, float]:
        """What each thread has worked so far; where the system tells nobody, the process as if it had one."""
        with suppress(self._denied):
            return {each.id: each.user_time + each.system_time for each in self._process.threads()}
        times = self._process.cpu_times()
        return {0: times.user + times.system}


def _listen(stream: IO[bytes], answers: "SimpleQueue[bytes | None]") -> None:
    while (answer := _got(stream)) is not None:
        answers.put(answer)
    answers.put(None)
    stream.close()


def _put(stream: IO[bytes], message: bytes) -> None:
    stream.write(len(message).to_bytes(_LENGTH, "little"))
    stream.write(message)
    stream.flush()


def _got(stream: IO[bytes]) -> bytes | None:
    length = stream.read(_LENGTH)
    if len(length) < _LENGTH:
        return None
    message = stream.read(int.from_bytes(length, "little"))
    return message if len(message) == int.from_bytes(length, "little") else None


# --- the other process ------------------------------------------------------------------------------------------------


def serve() -> None:
    """What another process does: say that it is ready, then work until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that has the terminal; it ends this one
    _end_with_parent()
    asks, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    given: SimpleQueue[bytes] = SimpleQueue()
    Thread(target=_hear, args=(asks, given), daemon=True).start()
    import_module(LOADED_FIRST)
    _put(answers, b"")
    while True:
        _put(answers, _worked(given.get()))


def _hear(asks: IO[bytes], given: "SimpleQueue[bytes]") -> None:
    while (message := _got(asks)) is not None:
        given.put(message)
    os._exit(1)  # whoever asked is gone


def _end_with_parent() -> None:
    """Where the system can, it ends this process with its parent, even in the midst of a library's endless loop."""
    if sys.platform == "linux":
        import ctypes

        set_parent_death_signal = 1
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGKILL)


def _worked(message: bytes) -> bytes:
    import faulthandler

    try:
        most, work, given = pickle.loads(message)
        if most:
            # its own end, should nobody be there to end it; a clock that no library can hold up
            faulthandler.dump_traceback_later(2 * most, exit=True, file=2)
        return pickle.dumps((work(*given), None, ""))
    except BaseException as error:
        told = traceback.format_exc()
        try:
            return pickle.dumps((None, pickle.loads(pickle.dumps(error)), told))
        except Exception:
            return pickle.dumps((None, RuntimeError(type(error).__name__), told))
    finally:
        faulthandler.cancel_dump_traceback_later()
