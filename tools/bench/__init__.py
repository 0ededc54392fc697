"""Benchmarks: ratios against a baseline of the same run, and growth with size.

    python -m tools.bench                all of them
    python -m tools.bench meter_values   one

Figures of one machine say little by themselves; `README.md` here says how to read them.
"""
