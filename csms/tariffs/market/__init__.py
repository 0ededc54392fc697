"""Market prices: what a day-ahead market published, kept as it came, and what holds at an instant.

`a44` and `csv_prices` read documents (pure): prices per MWh for whole intervals, or a fault with its
place and nothing. `document` is what both make of theirs. `series` says which price holds when: of one
document (mRID) only the highest revision counts, of several documents the one made last. What has no
price is a gap, told and never filled. `feed` is one series of a market with its source.

`repository` keeps every document with its bytes and every price with the document that said it, and
never changes either; so what was priced by an older revision can be priced by it again (`known_at`).
`service` takes documents in, `inputs/` fetches them (a folder, an address), `watch_service` does so
on a schedule; a failure is a fact that is kept and shown.
"""
