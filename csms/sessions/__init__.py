"""Sessions: one charge each, from plug-in to plug-out, as stations tell of it.

A step of a transaction is a fact and is never refused: it may come twice, late, out of order,
with a clock at 1970, or of a transaction whose start was lost. `session` holds the life cycle as
a table; `reconcile` finds the session that a step belongs to, or says why there is none; `steps`
and `sequence` put the step into it; `station_clock` mends times; `pauses` tells a car that waits
for us from one that has had enough. All of these are pure and free of order: the same steps give
the same session. Energy is `csms.metering.series` over all register values that are stored.

`filing_service` does a step inside the writer's transaction: session, readings, pauses, verdict,
facts. `handlers` answers the station after the commit. Readings of a session that is known and
running take a short way: `live` keeps where its meter stands, so that they cost one insert and
one update and no query. What is in `live` can always be made again from the database.

Facts: `session.started`, `session.ended`, `session.corrected` (something came after the end that a bill
depends on), `session.marked`, `session.orphan`.
"""
