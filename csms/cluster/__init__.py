"""What nodes share. One node needs neither a broker nor another database.

`relay` hands the outbox's facts to their followers after the commit, at least once and in
order. `bus` carries live pictures (a page's event stream) inside the process: losing one
harms nobody, the next replaces it.
"""
