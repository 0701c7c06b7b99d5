"""A small memory of results, thrown away oldest first."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """The last results by key; safe for several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._items: OrderedDict[Hashable, T] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable) -> T | None:
        """What is kept under a key."""
        with self._lock:
            if key in self._items:
                self._items.move_to_end(key)
                return self._items[key]
            return None

    def put(self, key: Hashable, value: T) -> T:
        """Keep a value, and return it."""
        with self._lock:
            self._items[key] = value
            self._items.move_to_end(key)
            while len(self._items) > self._most:
                self._items.popitem(last=False)
        return value

    def made(self, key: Hashable, make: Callable[[], T]) -> T:
        """What is kept, else what is made now."""
        found = self.get(key)
        return self.put(key, make()) if found is None else found
