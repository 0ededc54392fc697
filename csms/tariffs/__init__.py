"""Tariffs: what a session costs, and why.

parsing and writing know OCPI's Tariff object (2.2.1 and 2.3.0) and, beside it, our own components; tariff,
component, conditions are the checked values; components/ has one file per kind. session_cost turns a
session's facts (recorded finds them), imagined a document, into a curve: segments of CHARGING, PARKING
(the vehicle asks for nothing), PAUSED (we hold it back: not billed) or RESERVATION. cutting cuts it where
a restriction or a market's price may switch, pricing walks the pieces, spot_lines and reductions add what
OCPI does not know, quote writes the bill; parts cuts a bill, monthly is what the ledger asks; assignment
chooses the tariff. All of it is pure. market/ has prices and their sources. repository and service keep
tariffs, which are never edited (stored); handlers prices sessions, preview_service imagined ones.

Exact fractions throughout; a float never. step_size rounds a dimension's total once, with the step and
at the price of the component used last; only the last of TIME and PARKING_TIME is rounded. FLAT is one
fee per session and one per reservation: the first that applies. A min_price needs a session.

Totals: the sums without and with VAT are held within min_price and max_price on their own, then rounded half
up to the minor unit; VAT is the difference. How a limit spreads over VAT rates is ours (tax): pro rata,
whole cents by largest remainder, ties to the lower rate. A limit that names no amount with VAT lets VAT
follow. No rate anywhere: the total with VAT is unknown (None), unless taxes are included or N/A.
"""
