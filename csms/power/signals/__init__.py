"""Caps from outside: kept until they are over, listed, withdrawn (`csms.power.caps` says what they do)."""
