"""Who calls, who is connected, and who was heard of when: the gateway's side of stations.

Every socket that a station opens has an epoch, one higher than the one before. The newest wins,
and the end of an older one changes nothing. Signs of life are written once a minute at most.
"""
