"""Signed meter data: what a meter vouches for, and whether that holds.

`record` reads an OCMF record from its bytes as received; `public_key` reads the key of a meter and
`curves` says which of them we can calculate with; `verdict` says of one record whether a meter's
known key has signed it; `proof` looks at all records of a session and says whether they prove what
is billed. All of that is pure.

Keys belong to a meter's serial number for a time (`keys/`). A key is told us by
a person, or is found with the data; such a key is kept as unconfirmed and proves nothing: whoever
makes up data makes up a key for it.

Records are kept verbatim with the reading that they came with, in the same commit (`repository`),
and judged after it (`service`), when the outbox says that there are some. Readings without a
signature cost nothing of this.
Sources: Open Charge Metering Format 1.2 (OCMF), OCPP 1.6 and 2.0.1.
"""
