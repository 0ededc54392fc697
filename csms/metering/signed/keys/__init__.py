"""The keys of meters: each of a serial number, for a time, confirmed by somebody or only found with data."""
