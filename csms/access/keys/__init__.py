"""Keys with which programs use the REST interface.

A key is `py_` and 160 random bits. It is shown once, when it is made; kept is its SHA-256, so
looking it up by the hash needs no comparison in constant time. When it was last used is
written at most once a minute: an audit's grain, without a write per request.
"""
