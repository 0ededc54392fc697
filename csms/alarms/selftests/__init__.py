"""When each charger last tested its residual-current protection, and what came of it.

A charger tests itself between sessions and once a day and may tell so (`reading`); where it does
not, a person presses the test button and writes it down, twice a year (common practice, in line
with the instructions that IEC 61008-1 and 61009-1 ask makers to give; local rules may ask for
more). `schedule` says when the next one is due. A failed test is an alarm until a later one passes.
"""
