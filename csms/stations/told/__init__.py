"""What stations tell and nobody else owns, kept as it was told, to be read by station, kind and time.

Security events, states of firmware and logs, monitors, displays, limits of others, the car's
schedule, controls of the grid, batteries, payments. `kinds` is the list: under which kind each is
kept and which fact it becomes; a feature that wants to act on one follows the fact. Of each kind and
station the latest 500 stay.

`handlers` owns them, and the questions that somebody must decide: `deciders` says who that may be.
Until there is somebody (`take`), the answer is the standard's safe one: rejected, or failed.
"""
