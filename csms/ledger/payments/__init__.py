"""Payments: what members paid, what they owe, and how long each open item has been so."""
