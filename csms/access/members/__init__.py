"""Members: the flats, people and vehicles that tokens belong to and that statements go to."""
