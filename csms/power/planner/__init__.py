"""Ahead of time: by when which car charges, so that all have what they need and it costs little.

`need` puts together what a charge needs by when, from all who told something; `prices`, `forecast` and
`slots` are the hours to come. `gather` makes a `problem` of them. It is solved in another process
(`worker`, at the edge `worker_service`): `layout` has it as arrays, `program` is the linear programme,
`shortfall` who is short of how much when not everybody can be served, `pattern` and `repair` make currents
of it that a car can be told, `optimise` all of that in its order. `schedule` is the result for a person,
`wording` its words; what the steering sees of it is `csms.power.steering.planned`.

At the edge: `planner_service` says when to plan, `needs_service` and `prices_service` keep what was told,
`base_service` what the building took, `handlers` hears what cars tell, `repository` has the rows.

Invariant: a plan only ever asks for less. Live limits, promises and fallbacks are not its business, and
without it everything goes on as if there were none. `layout`, `program`, `shortfall`, `pattern`, `repair`
and `optimise` need phaseyard[optimise]; nobody else imports them.
"""
