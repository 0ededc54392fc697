"""Sharing one supply: who may charge, and with how many amperes.

`installation` is the tree of circuits and how stations are wired to it. `demand` says what a
car asks for; `currents` what a set of cars puts on every line of every circuit (star or delta).
`allocator` shares: `admission` (a minimum or nothing), `filling` (exact weighted leximin),
`certificate` (the proof, asserted after every run), `rounding` (steps of the station). `whatif`
is the same for an electrician with a JSON file.

In time: an offer is a promise. `promises` keeps, per EVSE, the most that it may be drawing by
anything we ever told it or by what it falls back to; `fallback` proves that silence is safe;
`profile` says what a station must hold for that. `facts` is what we have been told, `usage`
learns from it what a car really takes, `base_load` what the building takes. `steering` is the
decision: picture and now in, commands, reasons and the next hour to look again out. Lower
first, raise only into room that is really free. `controller` is the edge that runs it.

Invariant: the sum of all promises and the base load fits every circuit on every line at every
moment, also between two commands; only a step of the base load may pass it, for the time the
cars need to react. Phaseyard is not a protective device.
"""
