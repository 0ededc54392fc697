"""Sharing one supply: who may charge, and with how many amperes.

`installation` is the tree of circuits and how stations are wired to it; `caps` on it come and go.
`sharing` is one moment: given who asks and what is free, what does each get (pure; `phaseyard
allocate` is nothing but this). `steering` is time: what was promised, what really flows, what is
to be sent now, and when to look again (pure too).

At the edge: `controller` runs the steering of one site, `service` all of them; `records` makes an
installation from what is stored; `repository` keeps the promises. `fallback` proves that silence is
safe, and `proof_service` keeps active sites so whoever changes what. `holding_service` holds a car
still for others, such as `wiring_service`, which steps a car to see how a charger is wired
(`rotation_check`).

Invariant: the sum of all promises and the base load fits every circuit on every line at every
moment, also between two commands; only a step of the base load may pass it, for the time the
cars need to react. Phaseyard is not a protective device.
"""
