"""How stations and we prove to each other who we are: keys, certificates, security profiles.

The profiles are those of OCPP (1.6 security white paper, 2.0.1 part 2 block A): 0 nothing, 1 a key,
2 a key over TLS, 3 a certificate of the station over TLS. Who may come by which door is decided
in `csms.stations.security`, where the gateway asks. Here, `certificate` reads and judges
certificates; `authority` is our own small certificate authority, for sites that have none;
`tls_service` keeps the contexts of the doors and renews what they show; `signing_service` signs
what stations ask for; `key_service` gives a station a new key, `upgrade_service` leads it to a
higher profile. Both are commands that can fail half-way: until a station has come by the new way
the old one stays open, and where it stands is on disk.
"""
