"""Sharing one supply: who may charge, and with how many amperes.

`installation` is the tree of circuits and how stations are wired to it. `demand` says what a
car asks for; `currents` what a set of cars puts on every line of every circuit (star or delta).
`allocator` shares, in the way of one of the `strategies`: `line_choice`, `admission` (a minimum or
nothing), `filling` (exact weighted leximin) or `max_min` (with `unbalance`), `certificate` (the proof,
asserted after every run), `rounding`. `caps` come and go. `whatif` is all this for a JSON file.

In time: an offer is a promise. `promises` keeps, per EVSE, the most that it may be drawing by
anything we ever told it or by what it falls back to; `profile` says what a station must hold
for that; `fallback` proves that silence is safe. `bay` is one EVSE with all that is known:
`usage`, `derating`, `waking`, `turns`, `learned`. `base_load` is the building, `room` what is
free, `state` the site. `steering` is the decision: state and now in; commands, notices and the
next hour to look again out. `controller` runs it at the edge. `proof_service` keeps active sites safe
whoever changes what; `wiring_service` steps a car to see how a charger is wired (`rotation_check`).

Invariant: the sum of all promises and the base load fits every circuit on every line at every
moment, also between two commands; only a step of the base load may pass it, for the time the
cars need to react. Phaseyard is not a protective device.
"""
