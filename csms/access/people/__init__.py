"""Who signs in to the pages, and what whoever asks us may do.

`principal` says who asks and in which role, `names` what may be a name or a password, `attempts`
counts failed sign-ins, `service` creates people and their sign-ins. A password is kept as an
argon2id hash (RFC 9106). Of a sign-in's secret only the SHA-256 is kept: it is 160 random
bits, so nothing is gained by a slow hash, and a stolen database signs nobody in.

A person's sign-in travels in a cookie, so with it goes a form token that each form sends back.
"""
