"""Records of many rooms in one PostgreSQL database; each room goes on without it.

`address` (what names a store, without a secret), `connection` (psycopg, alone here, and what its errors mean),
`schema_steps` (versioned SQL in `sql`), `pushing` one record and `folder_push` many, `push_notes` (what a room knows of
it), `push_later` (a process of its own after a visit), `pulling`, `store_state` (what a store says of itself).

The database derives everything from the lines that it was sent (`sql/0001.records.sql`): it hashes each line, takes
none that does not go on from the one before, and lets nobody change or take away a line.
"""
