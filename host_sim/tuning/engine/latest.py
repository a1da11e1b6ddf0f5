"""The latest few results, so that candidates that share one need not make it again."""

from collections import OrderedDict


class Kept:
    """The latest few of what costs time to make."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._found: OrderedDict = OrderedDict()

    def get(self, key, make):
        """What belongs to a key, made where it is not there."""
        if key not in self._found:
            self._found[key] = make()
            if len(self._found) > self._most:
                self._found.popitem(last=False)
        self._found.move_to_end(key)
        return self._found[key]
