"""OCPP-J as pure functions: text and time in, meaning and text out; nothing here waits.

`frames` reads and writes the JSON arrays, `schemas` judges payloads by the official
schemas, `tolerance` puts right what stations usually get wrong, `rpc` keeps the calls of one
connection (`call_state` is their life cycle), `adapter` is what a version's translator
offers; `v16/`, `v201/`, `v21/` are the translators, one file per functional block. Most rows are spelled
by the schema: `shapes` ties a dataclass to a place in it, `keys` our names to the wire's.

Strict in what we send, tolerant in what we take: a message about a transaction that can be
read at all is handed on with its deviations, since an error makes a station repeat it and in
the end throw it away. A name of ours belongs to one of the wire's and back: it is looked up in the schema.

Sources: OCPP-J 1.6 with errata, OCPP 2.0.1 and 2.1 part 4, schemas in the package `ocpp`.
The table of messages is in README.md beside this file.
"""
