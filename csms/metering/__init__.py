"""Metering: what meters showed, and the energy that follows from it.

`series` is pure: it folds the register values of a session, in order of time, into energy. It
never bills backwards: a register that falls opens a new segment, a step that no charger could
have made is left out, and each such thing is flagged. The fold over values in order equals
`measure` over the same values in any order, so a running session can be kept up to date value
by value and still be checked from scratch.

`building` says what a reading of the building's meter is worth; `inputs/` holds the kinds, `meter_service`
one meter that is listened to and watched for silence, `building_service` all of them. A line that was not
told is never 0.

`repository` and `service` keep readings, one row per instant with a column per quantity and
line, and hand out the changes that the group commit writes.
"""
