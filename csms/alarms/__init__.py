"""What a person has to see to: raised, taken on, over; and told to whoever asked to be told.

`alarm` is the life of an alarm as a table, `kinds` what there is to raise with its weight and what
to do about it. `rules/` read the facts of the outbox, a file per subject and one list, and give
`signs`: this has begun, that is over. `service` turns signs into alarms: one open alarm per kind
and thing, however often it is told; a sign may have to hold for a while first; what comes back
within minutes is the same alarm. `selftests` keeps when each charger last tested its protection.

`routes` say who is told of what by which channel, at once or when nobody has taken an alarm on
for a while (escalation). `deliveries` decides what is due and when to try again, `delivery_service`
sends by `channels/`. A message that cannot be sent is tried for a day and then shown as given up;
it never holds up an alarm.
"""
