"""Books: the ten reconciliations over months that were issued."""
