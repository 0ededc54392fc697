"""Gathering: what a month's statements are made of, read in bulk and put together to `inputs.RunInputs`."""
