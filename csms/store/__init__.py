"""One database: SQLite out of the box, PostgreSQL by a URL, the same SQL on both.

`engine` opens it, `types` are the neutral column types, `dialects` holds what differs, `tables/`
has one file per feature, `migrations/` brings an old database up to date. `database` is what
the rest of the program holds: `read()` for a view, `write()` for one unit of work that commits
when it ends well, and `writer`, which groups the commits of many stations into one
(`group_commit`), so that *answer after commit* costs no disk sync per message.
`outbox` rows are written with the change that they tell of.

SQL is written in each feature's `repository` and uses Core, not the ORM: rows go in by the
hundred, and what comes out becomes the feature's own frozen dataclass.
"""
