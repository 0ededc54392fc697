"""What a station is to us, whatever it speaks.

`model` holds the nouns (token, reading, status, profile), `events` what a station tells and
needs no more than a receipt for, `questions` what it asks and the answers, `commands` what we
ask of it and the results. A protocol version is a translator to these words (`csms.ocpp`);
features know no other.

An OCPP 1.6 connector is an EVSE with one connector. EVSE 0 is the station as a whole.
Times are the station's own, aware UTC; the time of arrival travels beside them as `now`.
"""
