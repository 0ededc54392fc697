"""Weighted: amperes in proportion to the weights, as far as minimum, maximum and circuits let."""

from csms.power.sharing.strategy import Strategy

WEIGHTED = Strategy(
    name="weighted",
    about="All cars share evenly, in proportion to the weights of their groups.",
)
