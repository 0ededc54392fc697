from csms.power.sharing.strategies import STRATEGIES, strategy_named
from csms.power.sharing.strategy import Fairness


def test_each_strategy_says_what_it_does_and_is_found_by_its_name() -> None:
    assert len({strategy.name for strategy in STRATEGIES}) == len(STRATEGIES) == 5
    for strategy in STRATEGIES:
        assert strategy_named(strategy.name) is strategy
        assert strategy.about.endswith(".")


def test_what_can_be_shared_evenly() -> None:
    assert list(Fairness) == ["amperes", "kilowatts"]
