"""What models of stations get wrong in the same way every time, as data.

A quirk names a vendor, model and beginning of the firmware's version ("" fits all), and what is to
be put right: factors of energy, power and current values, the zone of times without one, and whether
a `Z` is false. It is applied to what comes in, before it is translated; what was told is kept beside
it. Nothing is applied by itself: what numbers betray becomes the fact `station.quirk_proposed`.
Beside that a station may be set to speak OCPP 1.6 although it names no version.
"""
