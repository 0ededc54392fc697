"""Pools: suppliers' invoices, and the registers of the main meter that they are measured by."""
