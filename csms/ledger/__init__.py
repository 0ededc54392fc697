"""The ledger: from energy and invoices to statements that can be proved.

`gathering` reads a month in bulk; `registers`, `owners`, `repricing`, `assembling` make parts of sessions of
it, each one account's and priced. The result is `inputs`: all that counts, and nothing else does. `charges`
says from it who pays what (tariff, fees, shares of `pool`s by key, losses, guests), `drafting` makes the
statements, `entries` what is booked. All of that is pure: the same inputs give the same bytes (`canonical`).

`issuing` previews, proves (`proof`, `proving`: ten reconciliations) and writes a month in one transaction.
Rows of runs, statements, entries and payments are never changed; the database refuses it. What a month
comes to now, less what is booked for it, is its correction: late sessions, new prices, another owner or
invoice are all made good by that one rule, as lines of the next month or by credit notes (`terms`).

`payments` keeps what came in and what is open; `books` proves issued months again. Whose a token or a place
was when is kept by `csms.access.ownerships`; market prices and sessions' prices are `csms.tariffs`'.

Facts: `billing.changed`, `pool.changed`, `statements.issued`, `statements.refused`, `statement.credited`,
`payment.booked`.
"""
