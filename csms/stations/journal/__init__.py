"""What was asked of stations, by whom, and what came of it.

`lifecycle` is the table of states, `repository` the SQL, `service` the journal that the gateway
writes and people read. A command is written before it is sent. After a time-out its effect is
unknown; an answer that comes after all is kept as a late one and unblocks nobody a second time.
"""
