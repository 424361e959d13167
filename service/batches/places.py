"""Places for batches: a limited number run at once, shared between callers; one that only waits makes room."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from service.batches.stream import Batch


def find_place(running: Iterable[Batch], most: int, idle_seconds: float, caller: str = "") -> bool:
    """Whether another batch may begin.

    If all ``most`` places are taken, the batch that has waited for its client longest gives up its place,
    provided that it has waited for at least ``idle_seconds``.  If none has, the latest batch of the caller who
    has the most ends early, provided that this caller still has as many as the new one then.
    """
    holding = [batch for batch in running if batch.holds_place]
    if len(holding) < most:
        return True
    idlest = max(holding, key=lambda batch: batch.idle_seconds)
    if idlest.idle_seconds >= idle_seconds:
        idlest.make_room()
        return True
    staying = [batch for batch in holding if not batch.ending]
    shares = Counter(batch.caller for batch in staying)
    # A place that is being given up is still held for a moment, so a few more may run than there are places.
    if not shares or len(holding) >= 2 * most:
        return False
    largest, number = max(shares.items(), key=lambda share: share[1])
    if number <= shares[caller] + 1:
        return False
    max((batch for batch in staying if batch.caller == largest), key=lambda batch: batch.begun).give_way()
    return True
