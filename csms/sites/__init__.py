"""Sites: one property with one supply, and the tree of circuits below it.

`model` holds the nouns and what makes them sound: names, currency, time zone, system, limits
per line in A, and a tree with one root and no loop. `repository` is the SQL; `service` is what
the rest of the program holds; `plan_service` puts what a site file says.

A circuit's limits are what the installer allows per line (0: the line is not there); whether
all fallbacks and the worst base load fit them is proved by `csms.power` before a site is
activated. Every change is told by a fact: `site.created`, `site.changed`, `site.activated`,
`site.deactivated`, `circuit.created`, `circuit.changed`, `circuit.deleted`.
"""
