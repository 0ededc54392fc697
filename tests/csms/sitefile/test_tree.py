"""Who feeds whom."""

from csms.sitefile.tree import hanging, tree_faults
from csms.sites.model import Circuit


def circuit(id: str, fed_from: str | None) -> Circuit:
    return Circuit(id=id, site_id="yard", name=id, fed_from=fed_from, limit_a=(16, 16, 16))


def test_every_fault_of_the_tree_is_found() -> None:
    feeds = {"s": None, "t": None, "a": "b", "b": "a", "c": "nowhere", "d": "d", "e": "a", "f": "s"}
    assert tree_faults(feeds) == (
        ("t", "the supply is 's' already; name the circuit that feeds this one"),
        ("c", "there is no circuit 'nowhere'"),
        ("a", "makes a loop: a < b < a"),
        ("d", "makes a loop: d < d"),
    )
    assert tree_faults({"s": None, "a": "s", "b": "a"}) == ()


def test_only_what_hangs_on_the_supply_can_be_added_up() -> None:
    sound = (circuit("s", None), circuit("a", "s"), circuit("b", "a"))
    assert hanging(sound) == sound
    loose = (
        circuit("c", "gone"),
        circuit("d", "c"),
        circuit("e", "f"),
        circuit("f", "e"),
        circuit("t", None),
    )
    assert hanging((*sound, *loose)) == sound
    assert hanging(loose[:3]) == ()
