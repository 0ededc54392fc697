"""Ownerships: whose a token or a charging place was, and from when to when.

A token's present member is a field of the token; the history is here, written with every change of it.
Statements go by the history: what a session drew before a change belongs to the one, after it to the other.
"""
