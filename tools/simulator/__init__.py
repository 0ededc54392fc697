"""Simulated stations, cars, breakers and a building: the other side of the wire.

What is here must be able to prove the central system wrong, so it shares no code with it: an own OCPP-J
client (`rpc`, `outbox`, `link`, `link16`, `link201`), an own reading of the charging profiles (`profiles`),
and physics (`car`, `evse`, `breaker`, `building`) that knows nothing of any protocol.

    car, evse, breaker, building    pure physics, stepped with dt; randomness is passed in
    profiles                        what a station makes of the profiles it holds
    bay, session                    one place to charge: cable, authorization, transaction
    station                         bays + link + clock; `plug_in`, `present`, `unplug`, `run`
    clock                           real or accelerated time; every timestamp a station sends comes from it
    fleet, __main__                 many stations from the command line, for load tests

Currents are amperes per line, in the order of the station's own terminals L1, L2, L3;
`Station.site_currents_a` maps them to the lines of the supply by the station's wiring. Energy is Wh at the
meter, before the car's own losses.
"""
