"""Tariffs: what a session costs, and why.

parsing and writing know OCPI's Tariff object (2.2.1 and 2.3.0); tariff, component, conditions are the
checked values; components/ has one file per kind. session_cost turns a session's facts (recorded finds
them), imagined a document, into a curve: segments of CHARGING, PARKING (the vehicle asks for nothing),
PAUSED (we hold it back: not billed) or RESERVATION. cutting cuts the curve wherever a restriction may
switch, pricing walks the pieces, quote writes the answer; assignment chooses the tariff. All of it is
pure. repository and service keep tariffs, which are never edited (stored); handlers prices sessions.

Exact fractions throughout; a float never. step_size rounds a dimension's total once, with the step and
at the price of the component used last; only the last of TIME and PARKING_TIME is rounded. FLAT is one
fee per session and one per reservation: the first that applies. A min_price needs a session.

Totals: the sums without and with VAT are held within min_price and max_price on their own, then rounded
half up to the minor unit; VAT is the difference. How a limit spreads over VAT rates is ours, the standard
being silent: what it adds or takes goes pro rata on the amounts of the rates' groups, whole cents by
largest remainder, ties to the lower rate (tax). A limit that names no amount with VAT lets VAT follow.
No rate anywhere in a tariff: the total with VAT is unknown (None), unless taxes are included or N/A.
"""
