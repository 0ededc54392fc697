"""The neutral words of the blocks that few features need, one file per block.

Each file has what a station tells (events), what it asks with the answers (questions), and what
we ask of it (commands) in its block; the unions in `csms.stations.events`, `questions` and
`commands` name them all. What the standard writes as an enumeration is a StrEnum in a command;
in an event it is the same word as a plain text, since a station may use one that nobody knows:
then it stands there as the station wrote it. A member compares equal with such a text.

Fields have our names (`evse`, `request_id`, `..._s`, `at`, `kind`); `csms.ocpp.keys` ties them to
the wire's. Reports that come in parts have `request_id`, `sequence` and `last`.
"""
