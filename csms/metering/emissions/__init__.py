"""Factors of emission: how much CO2 a kWh of the site's electricity stands for, in time.

Somebody uploads them (a grid operator's series, or one figure for a year). `factor` is pure and says
what an energy in an interval comes to; where there is no factor there is no figure, never a guess.
"""
