"""Places for batches: a limited number run at once, and one that only waits for its client makes room."""

from __future__ import annotations

from collections.abc import Iterable

from service.batches.stream import Batch


def find_place(running: Iterable[Batch], most: int, idle_seconds: float) -> bool:
    """Whether another batch may begin.

    If all ``most`` places are taken, the batch that has waited for its client longest gives up its place,
    provided that it has waited for at least ``idle_seconds``.
    """
    holding = [batch for batch in running if batch.holds_place]
    if len(holding) < most:
        return True
    idlest = max(holding, key=lambda batch: batch.idle_seconds)
    if idlest.idle_seconds < idle_seconds:
        return False
    idlest.make_room()
    return True
