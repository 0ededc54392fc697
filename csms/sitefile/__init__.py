"""A site as one file: its supply, circuits and stations, read strictly, proved, written back.

`document` turns YAML into marked nodes, so that whatever is wrong is told with its line and column.
`fields` takes typed values out of them and collects all faults instead of stopping at the first;
`parsing` is the schema, and gives a `description` made of the same records that are steered.
`check` proves what can be proved before anybody drives a car there: is silence safe on every circuit
and line, are the limits in order. `hints` are what an electrician should look at and Phaseyard cannot
know (selectivity, rotation, waiting cars); `report` is all of it, for people and for programs.
`writing` is the way back. `service` puts a description into the database, all of it or nothing, and
says no to what would make an active site unsafe or move a station under a charging car.

The check proves arithmetic only. Phaseyard is not a protective device.
"""
