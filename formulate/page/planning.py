"""Plans that take a while: begun in the background, looked at as they go on, stopped with the best so far."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from formulate.errors import FormulateError
from formulate.jobs.watching import Watch, watched

__all__ = ["Planning", "Plannings"]

MOST_AT_ONCE = 2
KEPT_S = 900.0
"""How long an answer waits to be fetched."""


@dataclass
class Planning:
    """One plan in the making, or made.

    Attributes
    ----------
    key : str
        What it is asked for by.
    parts : dict or None
        The answer once there is one.
    """

    key: str
    watch: Watch = field(default_factory=Watch)
    parts: dict[str, Any] | None = None
    begun_s: float = field(default_factory=time.monotonic)

    @property
    def seconds(self) -> int:
        """How long it has been looked for."""
        return int(time.monotonic() - self.begun_s)


class Plannings:
    """All that are going on in one page."""

    def __init__(self) -> None:
        self._all: dict[str, Planning] = {}
        self._lock = threading.Lock()

    def begin(self, work: Callable[[], dict[str, Any]]) -> Planning:
        """Begin one.

        Parameters
        ----------
        work : callable
            What takes the time; it is watched.

        Raises
        ------
        FormulateError
            If too many are going on.
        """
        with self._lock:
            old = [key for key, one in self._all.items() if one.seconds > KEPT_S]
            for key in old:
                self._all.pop(key).watch.stop()
            if sum(one.parts is None for one in self._all.values()) >= MOST_AT_ONCE:
                raise FormulateError("Two plans are being looked for already. Stop one, or wait for it.")
            planning = Planning(secrets.token_urlsafe(12))
            self._all[planning.key] = planning
        threading.Thread(target=self._run, args=(planning, work), daemon=True).start()
        return planning

    def _run(self, planning: Planning, work: Callable[[], dict[str, Any]]) -> None:
        parts: dict[str, Any] = {"problems": [("", "The plan broke off. Try it once more.")], "texts": []}
        try:
            with watched(planning.watch):
                parts = work()
        except FormulateError as error:
            parts = {"problems": [("", str(error))], "texts": []}
        finally:
            if planning.watch.stopped and parts.get("problems"):
                parts["problems"] = [("", "Stopped before there was any plan.")]
            planning.parts = parts

    def find(self, key: str) -> Planning:
        """Look one up.

        Raises
        ------
        FormulateError
            If it is not there, or not any more.
        """
        with self._lock:
            found = self._all.get(key)
        if found is None:
            raise FormulateError("This plan is not there any more. Work it out again.")
        return found
