"""What a station is to us, whatever it speaks.

`model` holds the nouns (token, reading, status, profile), `events` what a station tells and needs no
more than a receipt for, `questions` what it asks and the answers, `commands` what we ask of it and the
results, `words/` those of single blocks. A protocol version is a translator to these words
(`csms.ocpp`); features know no other. An OCPP 1.6 connector is an EVSE with one connector; EVSE 0 is
the station as a whole. Times are the station's own, aware UTC; the time of arrival is `now`.

`variables` are settings that we know by meaning. `record` is what we keep of a station and when its
installation is sound, `service` where people keep it; `credentials` its key. `presence` are the rules
for boots, intervals and statuses, `handlers` the owners of what a station tells of itself, `reports`
joins what comes in parts. `sockets` knows who may connect and whose socket counts; `journal` what was
asked and what came of it; `quarantine` keeps what could not be read, `told` what nobody else owns;
`composite` adds up charging profiles; `encoding` writes commands as JSON. `plan_service` puts what a
site file says, `joining_service` lets a charger take its planned place.

Facts: `station.created changed deleted waiting key_set key_removed connected lost booted status alert
variables profiles schedule_differs commissioned wrong_serial wiring_checked`, and `command.done`.
"""
