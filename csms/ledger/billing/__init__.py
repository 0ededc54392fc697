"""Billing: the terms of a site, and the addresses and languages of its members."""
