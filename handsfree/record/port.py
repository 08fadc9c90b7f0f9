"""Where records lie: what lists and pages ask of a place, whether that is a folder or a store of many rooms."""

from collections.abc import Callable, Iterable
from typing import Protocol

from handsfree.record.store import Filter, Summary
from handsfree.record.verify import Verification


class RecordSource(Protocol):
    """Records of one place. A folder and a store of many rooms give the same for the same records."""

    def listed(self, wanted: Filter) -> list[Summary]:
        """The records that a filter lets through, the oldest first.

        Raises:
            RecordError: The folder cannot be read.
            StoreError: The store cannot be used.
        """

    def checked(self, name: str) -> Verification:
        """Verify one of them, by its name in the list.

        Raises:
            RecordError: It cannot be read.
        """

    def folded(
        self, names: Iterable[str], fold: Callable[[str], str | None], known: Callable[[str], bool]
    ) -> dict[str, str]:
        """What is made of some records, each from a cache where it was made of the same lines.

        Args:
            names: Of the records, as they were listed.
            fold: Makes it anew, as JSON; None where a record cannot be read, which is tried again the next time.
            known: Whether what the cache has is of the form that `fold` gives.
        """

    def goes_on_from(self, longer: Summary, shorter: Summary) -> bool:
        """Whether one record begins with all lines of the other."""
