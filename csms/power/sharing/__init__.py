"""One moment: who asks, what is free, and what each gets, with the reason. Nothing here knows time.

`demand` says what a car asks for; `currents` what a set of cars puts on every line of every circuit
(star, or delta by phasors). `allocator` shares, in the way of one of the `strategies`: `line_choice`
for cars on one line, `admission` (a minimum or nothing), `filling` (exact weighted leximin) or
`max_min` (by linear programs in `solver`, where there is an `unbalance` limit), `certificate` (the
proof, asserted after every run), `rounding` to what a station can be told. `whatif` is all this for
a JSON file.
"""
