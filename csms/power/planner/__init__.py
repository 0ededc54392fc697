"""Ahead of time: by when which car charges, so that all have what they need and it costs little.

`need` puts together what a charge needs by when, from all who told something; `prices`, `forecast` and
`slots` are the hours to come; `gather` makes a `problem` of them. That is solved in another process
(`worker`, at the edge `worker_service`): `layout` has it as arrays, `program` is the linear programme,
`shortfall` who is short of how much when not all can be served, `blocks` keeps cars from being switched
at every quarter, `pattern` and `repair` make currents that a car can be told, `optimise` does it all.
`schedule` is the result for a person, `wording` its words; for the steering: `steering.planned`.

At the edge: `planner_service` says when to plan, `needs_service`, `prices_service` and `base_service` keep
what was told and measured, `market_service` knows a market's prices, `handlers` hears cars.

Invariant: a plan only ever asks for less. Live limits, promises and fallbacks are not its business, and
without it everything goes on as if there were none. `layout`, `program`, `shortfall`, `blocks`, `pattern`,
`repair` and `optimise` need phaseyard[optimise]; nobody else imports them.
"""
