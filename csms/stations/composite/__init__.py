"""What a station may draw by all its charging profiles together, computed by us and held against its word.

`shelf`: which profiles a station holds: what replaces what, what a clearing takes. `timeline`: one
profile over time (absolute, relative, daily, weekly, dynamic; validity, duration, periods). `combine`:
all of them at every moment: of one purpose the highest stack level that has a period leads; a
transaction's profile before the default, an EVSE's default before that of all; then the smallest of
station maximum, external limit and that. `compare`: ours beside what GetComposite tells.

Pure but for `service`, which asks the station, and puts the fact `station.schedule_differs` where the
two differ. Sources: OCPP 1.6 section 3.13 with errata 3.8, 3.25, 3.26, 3.37, 3.43, 3.65, 3.78; OCPP
2.0.1 K01, K08 with errata 2023-12; 2.1: K01.FR.97, FR.140, K28; local generation, priority: from memory.
"""
