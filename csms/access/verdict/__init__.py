"""The verdict: may this token charge here and now, and why.

`decide` is the pure function; `repository` fetches what it has to know; `service.Judge` joins
both, and notes what was refused.
"""
