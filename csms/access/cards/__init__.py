"""Cards that were held to a charger and belong to nobody yet."""
