from csms.power.sharing.cars import Cars


def test_a_part_of_the_cars_keeps_every_property_together() -> None:
    paths = [((row, 1.0),) for row in range(3)]
    cars = Cars(paths, [6.0, 7.0, 8.0], [16.0, 17.0, 18.0], [1.0, 2.0, 3.0], [0.0, 0.1, 1.0], [2, 1, 0])
    assert cars.of([2, 0]) == Cars(
        [paths[2], paths[0]], [8.0, 6.0], [18.0, 16.0], [3.0, 1.0], [1.0, 0.0], [0, 2]
    )
    assert len(cars) == 3
    assert Cars(paths, [6.0] * 3, [6.0] * 3, [1.0] * 3, [0.0] * 3).of([1]).ranks is None
