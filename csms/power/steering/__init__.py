"""In time: an offer is a promise that must hold also between two commands, and when somebody dies.

`promises` keeps, per EVSE, the most that it may be drawing by anything we ever told it or by what
it falls back to; `profile` says what a station must hold for that. `bay` is one EVSE with all that
is known: `usage`, `derating`, `waking`, `turns`, `learned`, `clock_offset`. `base_load` is the
building, `calm` how steady it is, `room` what is free, `planned` a plan's hours, `state` the site.
`targets` asks the sharing what each should have, and `moves` which line a car is put on; `decision`
turns state and now into commands, `notices` and the next time to look. `conditions` are what a
station keeps, or does not; `picture` is what people are shown, with `remarks` in words. Lower
first, raise when it holds, never rely on a command that nobody confirmed.
"""
