"""What a store says of itself: how much it has, what it keeps aside, whose clocks differ."""

from dataclasses import dataclass

from handsfree.store.connection import connected, told
from handsfree.store.folder_push import CLOCKS_DIFFER_S
from handsfree.store.schema_steps import check_schema, known_steps

_MOST = 50


@dataclass(frozen=True, slots=True)
class KeptAside:
    """A record that was refused.

    Attributes:
        record_id: Identifier; "" where its first line could not be read.
        name: Folder in its room.
        room: Who sent it.
        reason: Why.
        received: When, by the clock of the store.
    """

    record_id: str
    name: str
    room: str
    reason: str
    received: str


@dataclass(frozen=True, slots=True)
class RoomState:
    """One room, as far as this role may see it.

    Attributes:
        room: Its role in the database.
        visits: How many records it has sent.
        last: When the last lines came, by the clock of the store.
        clock_ahead_s: By how much its clock was ahead then; 0 where it was not far.
    """

    room: str
    visits: int
    last: str
    clock_ahead_s: float


@dataclass(frozen=True, slots=True)
class StoreState:
    """What a store says of itself.

    Attributes:
        user: As whom it takes this program.
        schema: The last step of its schema.
        lines: Lines of all records that this role may read.
        bytes: And their bytes.
        rooms: The rooms.
        kept_aside: What was refused, the newest first, at most fifty.
    """

    user: str
    schema: str
    lines: int
    bytes: int
    rooms: tuple[RoomState, ...]
    kept_aside: tuple[KeptAside, ...]


def store_state(address: str) -> StoreState:
    """Ask a store for its state.

    Raises:
        StoreError: It cannot be used.
    """
    with connected(address) as connection:
        check_schema(connection, address)
        with told(address):
            sums = connection.execute(
                "select current_user::text, coalesce(sum(lines), 0)::bigint, coalesce(sum(bytes), 0)::bigint"
                " from handsfree.visits"
            ).fetchone()
            rooms = connection.execute(
                "select room, visits, to_char(last at time zone 'utc', 'YYYY-MM-DD\"T\"HH24:MI:SS\"Z\"'), ahead_s"
                " from (select room, count(*) as visits, max(visit) as newest from handsfree.visits group by room)"
                " as one,"
                " lateral (select received as last, extract(epoch from room_clock - received)::float8 as ahead_s"
                " from handsfree.pieces where visit = newest order by first_line desc limit 1) as two order by room"
            ).fetchall()
            may = connection.execute("select has_table_privilege('handsfree.kept_aside', 'select')").fetchone()
            aside = (
                connection.execute(
                    "select record_id, name, room, reason, to_char(received at time zone 'utc',"
                    ' \'YYYY-MM-DD"T"HH24:MI:SS"Z"\') from handsfree.kept_aside order by id desc limit %s',
                    (_MOST,),
                ).fetchall()
                if may is not None and may[0]
                else []
            )
    user, lines, size = sums if sums is not None else ("", 0, 0)
    return StoreState(
        user=user,
        schema=known_steps()[-1],
        lines=lines,
        bytes=size,
        rooms=tuple(
            RoomState(room, visits, last, ahead_s if abs(ahead_s) > CLOCKS_DIFFER_S else 0.0)
            for room, visits, last, ahead_s in rooms
        ),
        kept_aside=tuple(KeptAside(*row) for row in aside),
    )
