from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from api.web import month_view
from api.web.month_rows import PoolRow, Sums
from csms.documents.document import Failure, Progress
from csms.ledger.period import Month
from csms.ledger.proof import Check, Name, Verdict
from csms.ledger.statement import Estimate, Sum, SumLine
from tests.csms.documents import samples

JANUARY = Month(2026, 1)
TREE = Check(name=Name.TREE, verdict=Verdict.PASS, words="fine")
SUMS = Sums(51, "1 kWh", "1.00 NOK", "0.25 NOK", "1.25 NOK", "1.25 NOK")
POOL = PoolRow("p", "Grid", "", "", "Jan 2026", "1.00", "0.25", "1.00", "by kWh")


def test_a_month_is_over_at_the_sites_midnight() -> None:
    """UTC+1 in winter."""
    before, after = (datetime(2026, 1, 31, hour, tzinfo=UTC) for hour in (22, 23))
    assert month_view.over(JANUARY, "Europe/Oslo", before).tone == "bad"
    assert month_view.over(JANUARY, "Europe/Oslo", after).tone == "good"


def test_readings_that_are_missing_are_named_with_where_to_go() -> None:
    statement = replace(
        samples.statement(),
        estimates=(
            Estimate(reason="average", energy_wh=1500, arguments={"station": "Bay 7"}),
            Estimate(reason="boundary", energy_wh=9),
        ),
        adds_up=(
            SumLine(Sum.CHARGERS, Decimal("962.4"), "kWh"),
            SumLine(Sum.UNKNOWN, Decimal("3.25"), "kWh"),
        ),
    )
    step = month_view.readings([statement], ["Bay 10", "Bay 9"], 2, "yard")
    assert (step.tone, step.says) == ("wait", "962.400 kWh by all chargers")
    assert [(one.text, one.address) for one in step.findings] == [
        (
            "2 sessions of the month still open: Bay 9, Bay 10. "
            "What is told later is corrected in the next month.",
            "/sites/yard#bays",
        ),
        ("1 session with 1.500 kWh that nobody read: Bay 7.", "/sites/yard#bays"),
        ("3.250 kWh were charged with cards that are nobody's; no member pays them.", "/access/yard#held"),
        ("2 reports of chargers fit no session.", "/sites/yard#events"),
        ("1 session cut at the month's edge between two readings, and marked so.", ""),
    ]


def test_a_cut_at_midnight_alone_holds_nobody_up() -> None:
    statement = replace(samples.statement(), estimates=())
    assert month_view.readings([statement], [], 0, "yard").tone == "good"
    assert month_view.readings([], [], 0, "yard").says == "0.000 kWh by all chargers"


def test_sessions_without_a_price_stop_the_close_and_are_named_by_reason() -> None:
    unpriced = (*((n, "no tariff applies") for n in range(1, 11)), (77, "prices are missing"))
    step = month_view.prices(unpriced, pays_sessions=True)
    assert (step.tone, step.says) == ("bad", "11 sessions without a price")
    assert [one.text for one in step.findings] == [
        "10 sessions (1, 2, 3, 4, 5, 6, 7, 8 and 2 more): No tariff applies.",
        "1 session (77): Prices are missing.",
    ]
    assert month_view.prices(unpriced, pays_sessions=False).tone == "good"
    assert month_view.prices((), pays_sessions=True).tone == "good"


def test_no_invoice_stops_only_where_members_pay_nothing_else() -> None:
    assert month_view.invoices([], True, TREE).tone == "wait"
    stopped = month_view.invoices([], False, TREE)
    assert (stopped.tone, stopped.findings[0].address) == ("bad", "#enter")
    assert month_view.invoices([POOL], False, TREE).tone == "good"


def test_what_the_main_meter_says_is_told_with_its_form() -> None:
    failed = replace(TREE, verdict=Verdict.FAIL, words="losses of 9 % are above the bound of 8 %")
    step = month_view.invoices([POOL], True, failed)
    assert (step.tone, step.findings[0].address) == ("bad", "#meter")
    assert step.findings[0].text == "Losses of 9 % are above the bound of 8 %."
    assert month_view.invoices([POOL], True, replace(TREE, verdict=Verdict.NOT_MEASURED)).tone == "wait"


def test_a_failed_proof_stops_the_issue() -> None:
    failed = Check(name=Name.VAT, verdict=Verdict.FAIL, words="WY-1 does not add up")
    step = month_view.proof([TREE, failed])
    assert (step.tone, step.says) == ("bad", "1 of 2 reconciliations do not hold")
    assert step.findings[0].text == "VAT of each document: WY-1 does not add up."
    fine = month_view.proof([TREE, replace(TREE, name=Name.MONEY, verdict=Verdict.NOT_MEASURED)])
    assert fine.says == "1 of 2 reconciliations hold; not measured: Shares make each invoice"
    assert month_view.stopped_by([step, fine]) == (step,)


def test_nobody_to_bill_is_said() -> None:
    assert month_view.preview(SUMS, "yard").says == "51 documents, 1.25 NOK in all"
    nobody = month_view.preview(replace(SUMS, count=0), "yard")
    assert (nobody.tone, nobody.findings[0].address) == ("bad", "/access/yard")
    assert month_view.issued(SUMS).tone == "good"


def test_documents_tell_how_far_they_are() -> None:
    failure = Failure("st_2", "WY-00002", "Flat 2", "language: 'fi' is no language of ours")
    steps = [
        month_view.documents(Progress(statements=3, made=made, failures=failures, running=running))
        for made, failures, running in ((3, (), False), (1, (), True), (1, (), False), (2, (failure,), False))
    ]
    assert [step.tone for step in steps] == ["good", "wait", "wait", "bad"]
    assert steps[1].says == "1 of 3 made, the others are being made"
    assert steps[3].findings[0].text == "WY-00002, Flat 2: Language: 'fi' is no language of ours."


def test_the_months_to_choose_from_end_with_the_first_that_was_issued() -> None:
    today = date(2026, 3, 9)
    assert month_view.months(None, [], today) == ((Month(2026, 3), False),)
    assert month_view.months(JANUARY, [], today) == ((JANUARY, False),)
    issued = [JANUARY, Month(2025, 12)]
    assert month_view.months(Month(2025, 12), issued, today) == (
        (Month(2026, 2), False),
        (JANUARY, True),
        (Month(2025, 12), True),
    )
    assert month_view.month_name(JANUARY) == "January 2026"
