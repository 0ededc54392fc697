"""A site's days in accelerated time: the product's own decision against simulated physics.

    description     what is simulated, as plain values; `reading` takes it out of a YAML file
    arrivals, load  which car comes when; what the building draws
    places          one bay with its car and the limits its station holds
    grid            what flows on every line of every circuit: limits, breakers
    server          our side: the controller, its store, and how it is killed and started again
    messages        the way between both, with delay and loss
    world           the loop of events that ties them together
    fairness, clairvoyant, even, report, picture    judge it
    proof           the long runs, with a table

Nothing here waits: time is a number that jumps from event to event. The decision is the one that runs
in the product (`SiteController`); everything it is judged by (currents, breakers, stations, cars, the
best that was possible) is computed here without it.
"""
