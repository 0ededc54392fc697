"""News of a session is a value."""

from csms.sessions.news import SessionNews
from csms.sessions.session import State
from csms.stations.model import ChargingState


def test_news_can_be_compared() -> None:
    news = SessionNews(7, "YARD-01", 1, "7", State.STARTED, ChargingState.IDLE, 0, None, began=True)
    assert news == SessionNews(7, "YARD-01", 1, "7", State.STARTED, ChargingState.IDLE, 0, None, None, True)
    assert news.reading is None
