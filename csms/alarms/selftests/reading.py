"""Self-tests in what chargers tell. There is no standard form, so words and names are looked for.

OCPP 2.x tells a component's variable (NotifyEvent), 1.6 a text beside a status. What is not clearly
the result of a self-test is none: a wrong "passed" would be worse than none.
"""

import re

PROTECTION = re.compile(r"rcd|rdc|rcm|residual|dcleak|dc6ma|gfci|groundfault|protection", re.IGNORECASE)
SELF_TEST = re.compile(r"self[\s_-]*test", re.IGNORECASE)
PASSED = re.compile(r"\b(ok|pass(ed)?|good|success(ful)?|true)\b", re.IGNORECASE)
FAILED = re.compile(r"\b(fail(ed|ure)?|faulty|bad|error|not\s+ok|false)\b", re.IGNORECASE)


def result_of_variable(path: str, value: str | None) -> bool | None:
    """Whether the variable tells a passed or failed self-test of the protection; None: neither."""
    component, _, variable = path.partition("/")
    if not SELF_TEST.search(variable) or not (PROTECTION.search(component) or PROTECTION.search(variable)):
        return None
    return _result(value or "")


def result_of_text(text: str) -> bool | None:
    """The same for a charger's own words; they have to name self-test, protection and result."""
    if not SELF_TEST.search(text) or not PROTECTION.search(text):
        return None
    return _result(text)


def _result(text: str) -> bool | None:
    if FAILED.search(text):
        return False
    return True if PASSED.search(text) else None
