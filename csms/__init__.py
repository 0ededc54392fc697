"""Phaseyard's central system: chargers in, decisions and money out, no HTTP framework.

Read from the edge down. `gateway` owns the sockets and `ocpp` translates what comes
through them into the neutral words of `stations`. `access` says who may charge,
`sessions` and `metering` keep what was drawn, `power` shares the supply, `tariffs`
prices it. `store` keeps all of it in one database. `app` puts the pieces together
and is the only module that knows them all.

Imports go down that list only (`pyproject.toml`, import-linter). Plain files are pure;
`repository`, `service`, `handlers` and `controller` touch the world.
"""
