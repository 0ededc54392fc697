from csms.power.installation import Evse, Line
from csms.power.steering.notices import Notice, NoticeKind


def test_a_notice_is_of_a_bay_or_of_a_line_and_can_be_told_apart() -> None:
    asleep = Notice(NoticeKind.CAR_ASLEEP, Evse("bay", 1))
    over = Notice(NoticeKind.OVER_LIMIT, None, "main", Line.L2)
    assert len({asleep, over, Notice(NoticeKind.CAR_ASLEEP, Evse("bay", 1))}) == 2
    assert len({kind.value for kind in NoticeKind}) == len(NoticeKind)
