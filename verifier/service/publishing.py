"""The publisher: a thread of every worker that writes what is ordered and looks at the machines' folders, outside requests.

Writing may be done by several at once (each folder has its lock), looking is done by one of them in turn. A worker that
dies takes its publisher along and is started again by the server, so that there is always one.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import asdict

from verifier import records
from verifier.floor import JobResult, check_floor, publish_pending
from verifier.records import Shop
from verifier.source import VerifierError

LOG = logging.getLogger("verifier.service")

WAIT_S = 3.0
"""So long a request waits for its files; after that the page says that they are not yet at the machine."""


_LONGEST_PAUSE_S = 30.0
"""A folder that cannot be written is tried again ever more slowly, down to this; any new order wakes the publisher at once."""


class Publisher:
    """Runs until it is stopped. `open_shop` gives the shop, or raises while there is none."""

    def __init__(
        self, open_shop: Callable[[], Shop], new_id: Callable[[], str], *, publish_s: float, watch_s: float
    ) -> None:
        self._open_shop = open_shop
        self._new_id = new_id
        self._publish_s, self._watch_s = publish_s, watch_s
        self._wake, self._stop = threading.Event(), False
        self._turn = threading.Condition()
        self._asked = self._done = 0
        self._results: tuple[JobResult, ...] = ()
        self._before: tuple[JobResult, ...] = ()
        self._told: tuple[JobResult, ...] = ()
        self._trouble = ""
        self._thread = threading.Thread(target=self._run, name="publisher", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self, wait_s: float = 5.0) -> None:
        """End after the job in hand."""
        self._stop = True
        self._wake.set()
        self._thread.join(wait_s)

    def publish(self, _: Shop) -> tuple[JobResult, ...]:
        """Have everything written that is ordered by now; gives what came of it, or nothing where that takes longer.

        The turn before is told too: it may have met the order between its record and this call.
        """
        with self._turn:
            self._asked += 1
            mine = self._asked
            self._wake.set()
            if self._turn.wait_for(lambda: self._done >= mine, timeout=WAIT_S):
                return (*self._before, *self._results)
        return ()

    def _run(self) -> None:
        pause = self._publish_s
        while not self._stop:
            self._wake.clear()
            with self._turn:
                mine = self._asked
            results = self.once()
            with self._turn:
                self._done, self._before, self._results = mine, self._results, results
                self._turn.notify_all()
                waiting = self._asked > mine
            stuck = bool(results) and all(job.state == "pending" for job in results)
            pause = min(pause * 2, max(_LONGEST_PAUSE_S, self._publish_s)) if stuck else self._publish_s
            if not waiting:
                self._wake.wait(pause)

    def once(self) -> tuple[JobResult, ...]:
        """One turn: write, then look if it is time to; troubles are logged, and tried again at the next turn."""
        try:
            shop = self._open_shop()
            results = publish_pending(shop, self._new_id)
            if records.claim_look(shop, self._watch_s):
                records.keep_look(shop, [asdict(drift) for drift in check_floor(shop)])
            self._trouble = ""
        except VerifierError as error:
            if self._trouble != (
                trouble := type(error).__name__
            ):  # a trouble that stays is told once: no shop yet, say
                LOG.warning("publishing", extra={"facts": {"trouble": trouble}})
            self._trouble = trouble
            return ()
        except Exception as error:  # nothing may end this thread: without it no file would reach a machine
            LOG.error("publishing", extra={"facts": {"trouble": type(error).__name__, "message": str(error)[:300]}})
            return ()
        for job in (job for job in results if job not in self._told):
            facts = {
                "machine": job.machine,
                "file": job.file,
                "kind": job.kind,
                "state": job.state,
                "trouble": job.trouble,
            }
            LOG.info("floor", extra={"facts": facts})
        self._told = tuple(job for job in results if job.state == "pending")  # a trouble that stays is told once
        return results
