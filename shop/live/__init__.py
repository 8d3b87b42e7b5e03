"""Live screens: what changes anywhere is told to every open page within a moment.

An action tells PostgreSQL (`tell_screens`), which passes it on when the action's transaction commits. Each web process
listens on one connection (`hub`) and sends it to its open pages as server-sent events (`stream`). Only ids travel: the
page then asks for what it may see.
"""
