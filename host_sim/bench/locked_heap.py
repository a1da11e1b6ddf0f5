"""Proof that a step does not allocate: MicroPython raises when it tries."""

import micropython


def run_with_locked_heap(step, times: int = 1000) -> None:
    """Call `step()` so often with the heap locked; MemoryError if it allocates.

    CPython has no such lock: there the steps just run.
    """
    lock = getattr(micropython, "heap_lock", _nothing)
    unlock = getattr(micropython, "heap_unlock", _nothing)
    lock()
    try:
        for _ in range(times):
            step()
    finally:
        unlock()


def _nothing() -> None:
    """What CPython has instead."""
