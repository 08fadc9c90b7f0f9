"""Attempts of learners in a store: the chained file of each installation, sent as far as it lacks, and read back."""

from typing import TYPE_CHECKING

from handsfree.errors import RecordError, StoreError
from handsfree.record.chain_checking import ChainRead, check_chain
from handsfree.record.record_line import RecordLine
from handsfree.store.connection import RefusedLinesError, connected, told
from handsfree.store.schema_steps import check_schema

if TYPE_CHECKING:
    from handsfree.store.connection import Connection


def push_attempts(address: str, name: str, lines: list[RecordLine]) -> int:
    """Send what a store lacks of a file of attempts.

    Args:
        address: Of the store.
        name: What the file is called there, one for each role of the database.
        lines: All lines of the file, checked.

    Returns:
        How many were sent.

    Raises:
        StoreError: The store cannot be used, or has another file of this name that goes on otherwise.
    """
    with connected(address) as connection:
        check_schema(connection, address)
        try:
            with told(address), connection.transaction():
                return _push(connection, name, lines)
        except RefusedLinesError as refused:
            raise StoreError(f"the store does not take the attempts: {refused.reason}; nothing was sent") from refused


def _push(connection: "Connection", name: str, lines: list[RecordLine]) -> int:
    connection.execute("insert into handsfree.attempt_books (name) values (%s) on conflict do nothing", (name,))
    row = connection.execute(
        "select book, lines, encode(head, 'hex') from handsfree.attempt_books where owner = current_user and name = %s",
        (name,),
    ).fetchone()
    if row is None:
        raise RefusedLinesError("another push of it is under way", overtaken=True)
    book, done, head = int(row[0]), int(row[1]), str(row[2])
    if done > len(lines) or (done and lines[done - 1].hash != head):
        raise RefusedLinesError(
            f"{name} goes on otherwise there, after {done} lines; give it another --name", overtaken=False
        )
    left = lines[done:]
    if left:
        connection.execute(
            "insert into handsfree.attempt_pieces (book, first_line, raw) values (%s, %s, %s)",
            (book, done, b"".join(line.raw + b"\n" for line in left)),
        )
    return len(left)


def stored_attempts(address: str) -> list[tuple[RecordLine, ...]]:
    """The lines of every file of attempts that this role may read, each checked by its chain.

    Raises:
        RecordError: One is not what was sent.
        StoreError: The store cannot be used.
    """
    with connected(address) as connection:
        check_schema(connection, address)
        with told(address):
            rows = connection.execute(
                "select owner, name, string_agg(raw, ''::bytea order by first_line) from handsfree.attempt_books"
                " join handsfree.attempt_pieces using (book) group by book, owner, name order by owner, name"
            ).fetchall()
    books = []
    for owner, name, raw in rows:
        reading = ChainRead.split(bytes(raw))
        check_chain(reading)
        if reading.faults:
            raise RecordError(f"{name} of {owner} in the store: {reading.faults[0]}")
        books.append(tuple(reading.good))
    return books
