"""What people and programs see of Phaseyard: REST, reports, pages, the command line.

`app` builds the web application around a `csms.app.Central` that it is handed; `v1/` has one
file per resource, `reports/` one per report, `web/` the pages, `cli/` one per command. `node`
runs the chargers' socket and the web in one loop of one process.

Nothing in `csms` knows this package. Inputs are strict here (pydantic, no extra fields, no
guessing of types), so that the rest may trust its values.
"""
