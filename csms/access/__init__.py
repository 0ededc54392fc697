"""Access: who may charge where, and why.

`members` (flats, people, vehicles) own `tokens` (cards, app tokens, key codes) and belong to
`groups`; `rights` let a member, a group or everyone charge at a station, at all stations below
a circuit, or on a whole site. `verdict` is the decision: a pure function of what is known, with
its reason and a sentence to show. `ownerships` say whose a token or a space was when, for those
who bill. `cards` holds the cards that were held to a charger and are nobody's yet: adopting one
makes the token ("enrol by holding it to a charger").

Tokens are compared by their folded form only (`tokens.token.fold`). `handlers` answers the
question MayCharge; a transaction's start is judged by `csms.sessions` in its own transaction
through `verdict.service.Judge`. `people` and `keys` are about those who sign in.

Facts: `member.changed`, `group.changed`, `token.changed`, `right.changed`, `token.unknown`,
`token.refused`. Their bodies are written to be read.
"""
