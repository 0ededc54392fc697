"""Issuing: previews, runs, statements and credit notes; numbers without a gap, all or nothing."""
