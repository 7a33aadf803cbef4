"""What the recogniser's process took of this machine."""

from __future__ import annotations

import sys
import time


class Cost:
    """From its making on, of processes that this one began and waited for."""

    def __init__(self) -> None:
        self._begun = time.perf_counter()
        self._ready_s = 0.0
        self._before_s = _used()[0]

    def ready(self) -> None:
        """The recogniser is ready from now on."""
        self._ready_s = time.perf_counter() - self._begun

    @property
    def told(self) -> str:
        """One sentence, once that process has ended; memory and processor where they are known."""
        lasted_s = time.perf_counter() - self._begun
        used_s, most_mb = _used()
        took = f"The recogniser was ready in {self._ready_s:.1f} s"
        if not most_mb:
            return f"{took}."
        share = f"{(used_s - self._before_s) / lasted_s:.0%}".replace("%", " %")
        return f"{took}, and took {most_mb:.0f} MB of memory and {share} of a processor."


def _used() -> tuple[float, float]:
    """Seconds of a processor, and the most megabytes at once; zeros where nobody counts them."""
    try:
        import resource
    except ImportError:  # Windows
        return 0.0, 0.0
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    # In kilobytes on Linux, in bytes on a Mac (their manuals, from memory).
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return used.ru_utime + used.ru_stime, used.ru_maxrss / unit
