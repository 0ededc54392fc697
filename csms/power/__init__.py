"""Sharing one supply: who may charge, and with how many amperes.

`installation` is the tree of circuits and how stations are wired to it; `caps` on it come and go.
`sharing` is one moment: given who asks and what is free, what does each get (pure; `phaseyard
allocate` is nothing but this). `steering` is time: what was promised, what really flows, what is
to be sent now, and when to look again (pure too).

At the edge: `controller` runs the steering of one site, `service` all of them; `records` makes an
installation from what is stored. `offering_service` sends offers, `promises_service` keeps them
(`repository`), `notices_service` tells what is amiss, `holding_service` which cars we hold, and
`setup_service` sets chargers up. `signals` are caps from outside, `planner` looks ahead. `fallback`
proves that silence is safe, `proof_service` keeps active sites so whoever changes what, and
`wiring_service` steps a car to see how a charger is wired (`rotation_check`). README.md: the rules
in time, and the test that fails without each.

Invariant: the sum of all promises and the base load fits every circuit on every line at every
moment, also between two commands; only a step of the base load may pass it, for the time the
cars need to react. Phaseyard is not a protective device.
"""
