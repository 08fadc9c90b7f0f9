"""The append-only record on disk, and what it states.

Writing, from the file up: `files`, `folders` and `clips` (what survives a crash), `record_line` (canonical bytes,
chain, sums), `codec` (model values as JSON and back), `header` and `own_lines` (what the journal itself states),
`chain_writing`, `journal`, `restore`, `amendments`.

Reading: `line_checking` (bytes to lines with their faults), `forms` (lines of each form to what they state),
`folding` to a `contents.Record`, `comparison` with what a session answers, `verify`, `store`.

To change what a line states: raise `header.FORM`, keep the reading of the form before as a module of `forms`, and put
golden records of it beside the tests. `schema` prints the present form.
"""
