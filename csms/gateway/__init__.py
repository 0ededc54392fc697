"""The sockets: who calls, what goes through, and how the rest reaches a station.

`server` listens and decides at the door with `handshake` (pure) and `keys`; `link` pumps one
socket through engine, translator and the owners of what was said; `registry` knows the newest
link of every station and is where the rest asks commands. `admission` (pure) says what a
station that is not accepted yet may say and be asked. `ports` is what the gateway needs of others.

A station is answered when the owner has committed. Nothing that comes through a socket ends
more than that socket, and a broken frame not even that.
"""
