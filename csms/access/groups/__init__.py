"""Groups of members: who shares rights, and who comes first when the supply is short."""
