"""Steps that fitted no session: a person puts them into one, or dismisses them with a note.

Until then their energy is nobody's, and reports say how many there are. `told` reads a step back from
the document in which it was kept.
"""
