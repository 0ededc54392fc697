"""Recorded messages, spoilt in every way we could think of, through the real link into a real database.

`vectors` reads the recorded messages of all versions, `damage` spoils them (pure, from a seed), `socket`
is a WebSocket without a wire, `run` plays stations whose every other message is spoilt. Held up against it:
a link lives, or is closed by a rule that is written down and the station comes back; and honest
transactions in between are recorded exactly once, with the right energy.
"""
