"""The recorder: one thread that writes a session's file, so that the loop never waits for a disk.

It is a daemon: one that hangs in a stalled write keeps no process from ending.
"""

import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, wait
from functools import partial
from queue import Empty, SimpleQueue

from daemon.session.store import HeldError, Store
from shared.events import Event
from shared.inputs import Input

AGAIN_S = 0.05
"""How long to wait before asking again for a file that another program holds."""
LEAVING_TRIES = 20
TIDY_AFTER_S, MOST_UNTIDY = 0.05, 8
"""Commits are moved out of the journal when no other has come for so long, or when there are so many:
whoever asks for one thing after the other does not wait for that each time."""

_OPEN: set["Recorder"] = set()
"""Every recorder of this process whose file is not closed."""


class Recorder:
    """Writes to a store in the order it was asked, in a thread of its own."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._asked: SimpleQueue[tuple[Callable[[], None], Future[None]]] = SimpleQueue()
        self._leaving = threading.Event()
        self._closed = False
        _OPEN.add(self)
        threading.Thread(target=self._work, name="recorder", daemon=True).start()

    def write(
        self,
        inputs: Sequence[Input],
        events: Sequence[Event],
        reach_ns: int,
        syncing: Callable[[], None] = lambda: None,
    ) -> Future[None]:
        """Commit; waits for a program that holds the file.

        syncing: called in the recorder's thread when all is handed over and only the disk is waited for,
            once a try.
        """
        return self._ask(partial(self._write, inputs, events, reach_ns, syncing))

    def leave(self) -> None:
        """From now on wait only a little for a program that holds the file."""
        self._leaving.set()

    def close(self) -> Future[None]:
        """Close the file after everything that was asked before."""
        self.leave()
        return self._ask(self._close)

    def _ask(self, what: Callable[[], None]) -> Future[None]:
        answer: Future[None] = Future()
        answer.set_running_or_notify_cancel()  # who gives up waiting takes nothing back
        self._asked.put((what, answer))
        return answer

    def _work(self) -> None:
        untidy = 0
        while not self._closed:
            try:
                what, answer = self._asked.get(timeout=TIDY_AFTER_S if untidy else None)
            except Empty:
                self.store.settle()
                untidy = 0
                continue
            try:
                what()
            except Exception as error:  # noqa: BLE001 - it is raised where it was asked
                answer.set_exception(error)
            else:
                answer.set_result(None)
                untidy += 1
            if untidy == MOST_UNTIDY and not self._closed:
                self.store.settle()
                untidy = 0

    def _write(
        self,
        inputs: Sequence[Input],
        events: Sequence[Event],
        reach_ns: int,
        syncing: Callable[[], None],
    ) -> None:
        tries_left = LEAVING_TRIES
        while True:
            try:
                self.store.commit(inputs, events, reach_ns, syncing)
            except HeldError:
                tries_left -= self._leaving.is_set()
                if tries_left < 0:
                    raise
                time.sleep(AGAIN_S)
            else:
                return

    def _close(self) -> None:
        self._closed = True
        _OPEN.discard(self)
        self.store.close()


def close_all(within_s: float) -> bool:
    """Close every open record, from any thread; False where a disk does not answer in time."""
    asked = [recorder.close() for recorder in tuple(_OPEN)]
    return not wait(asked, within_s).not_done
