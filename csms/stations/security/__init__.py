"""Which security profile a station has reached, and a key that it was sent but has not come by yet.

`profile` decides who may come by which door, `repository` keeps it. Certificates, and the
commands that lead a station from one profile to the next, are `csms.security`.
"""
