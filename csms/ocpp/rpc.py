"""One connection's calls in both directions: text and time in, items and texts out.

`Rpc` neither waits nor reads a clock; `now` is monotonic seconds. The owner writes the texts
of every `Step` to the socket in order, acts on its items, and calls `tick` when `due` has come.

To the station: one open call at a time, the rest queue; every call has a time to live in the
queue and a deadline that begins when it is sent. From the station: calls are answered in the
order of their arrival, whatever the order in which the owner answers them. A repeat (same id,
same text) gets the first answer again; only answers that tell our time are made anew.
"""

from collections import OrderedDict, deque
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from csms.errors import OurFault
from csms.ocpp import frames, schemas, tolerance
from csms.ocpp.actions import KNOWN, TELLS_TIME, UNANSWERED
from csms.ocpp.call_state import CallEvent, CallState, after, allowed
from csms.ocpp.faults import Fault
from csms.ocpp.frames import Call, CallError, CallResult, CallResultError, Limits, Malformed, Send
from csms.ocpp.rpc_items import CallEnded, CallSent, Counts, InboundCall, InboundSend, Step, Unusable
from csms.ocpp.schemas import Part, Violation
from csms.ocpp.version import Version

QUEUE_LENGTH = 100
"""Calls that may wait for the station at most."""
REMEMBERED_CALLS = 64
"""Ended calls whose late or repeated answers are still recognised."""
REMEMBERED_ANSWERS = 32
"""Answers kept for repeats, and the longest text worth keeping."""
REMEMBERED_TEXT = 16_384
REMEMBERED_S = 600.0
"""Age at which an equal message is news: some stations number all their messages alike."""


class InvalidOutbound(OurFault):
    """A message of ours that breaks the schema; it was not sent."""

    code = "invalid-outbound"

    def __init__(self, action: str, violations: tuple[Violation, ...]) -> None:
        super().__init__(action, violations)
        self.action = action
        self.violations = violations

    def __str__(self) -> str:
        return f"our {self.action} breaks the schema: {'; '.join(map(str, self.violations))}"


@dataclass(slots=True)
class _Ours:
    """A call that we make. `until`: end of its time to live, then its deadline."""

    id: str
    action: str
    text: str
    timeout_s: float
    until: float
    state: CallState = CallState.QUEUED


@dataclass(slots=True)
class _Theirs:
    """A place in the order of answers. `text` None: not answered yet; `digest` of the call's text."""

    call: InboundCall | None
    digest: int
    text: str | None = None


class Rpc:
    """The call state of one connection. `supported`: actions that the owner can answer."""

    def __init__(
        self,
        version: Version,
        supported: Collection[str],
        new_id: Callable[[], str],
        limits: Limits | None = None,
    ) -> None:
        self.version = version
        self.counts = Counts()
        self._supported = frozenset(supported)
        self._known = KNOWN[version]
        self._new_id = new_id
        self._limits = limits or Limits()
        self._queue: deque[_Ours] = deque()
        self._open: _Ours | None = None
        self._ended: OrderedDict[str, _Ours] = OrderedDict()
        self._theirs: deque[_Theirs] = deque()
        self._answers: OrderedDict[str, tuple[int, float, str]] = OrderedDict()

    # ---- from the station -------------------------------------------------------------

    @property
    def unanswered(self) -> int:
        """Calls of the station that wait for their answer."""
        return len(self._theirs)

    def receive(self, text: str, now: float) -> Step:
        """Take one text message of the station."""
        self.counts.received += 1
        frame = frames.read(text, self.version, self._limits)
        step = Step()
        if isinstance(frame, Call):
            self._called(frame, text, step, now)
        elif isinstance(frame, CallResult):
            self._ours_ends(frame.id, CallEvent.RESULT, step, now, payload=frame.payload)
        elif isinstance(frame, CallError):
            self._ours_ends(frame.id, CallEvent.ERROR, step, now, error=frame)
        elif isinstance(frame, Send):
            self._sent_to_us(frame, step)
        elif isinstance(frame, CallResultError):
            problem = f"the station could not use our answer {frame.id}: {frame.code} {frame.text}"
            step.items.append(Unusable(problem, Fault.read(frame.code), malformed=False, answered=False))
        else:
            self._garbage(frame, step)
        return step

    def _called(self, call: Call, text: str, step: Step, now: float) -> None:
        digest = hash(text)
        if self._is_repeat(call, digest, step, now):
            return
        fault, problem = self._unwanted(call.action)
        if fault is not None:
            self._refuse_at_once(call.id, fault, problem, step)
            return
        payload, deviations, wrong = self._judge(call.action, Part.REQUEST, call.payload)
        if len(call.id) > frames.ID_LENGTH:
            deviations = (*deviations, f"message id: has {len(call.id)} characters")
        inbound = InboundCall(call.id, call.action, payload, deviations, wrong)
        if wrong and not inbound.about_transaction:
            self._refuse_at_once(call.id, wrong[0].fault, str(wrong[0]), step)
            return
        self._theirs.append(_Theirs(inbound, digest))
        step.items.append(inbound)

    def _is_repeat(self, call: Call, digest: int, step: Step, now: float) -> bool:
        """An unanswered one will get its answer; an answered one gets it again."""
        if any(one.digest == digest and one.call and one.call.id == call.id for one in self._theirs):
            self.counts.repeated += 1
            return True
        kept_digest, kept_at, kept_text = self._answers.get(call.id, (0, 0.0, ""))
        if not kept_text or kept_digest != digest or now - kept_at > REMEMBERED_S:
            return False
        self.counts.repeated += 1
        self._theirs.append(_Theirs(None, digest, kept_text))
        self._flush(step)
        return True

    def _unwanted(self, action: str) -> tuple[Fault | None, str]:
        if action not in self._known:
            return Fault.NOT_IMPLEMENTED, f"OCPP {self.version} has no action {action[:50]}"
        if action not in self._supported or action in UNANSWERED:
            return Fault.NOT_SUPPORTED, f"{action} is not supported here"
        return None, ""

    def _sent_to_us(self, send: Send, step: Step) -> None:
        if send.action in UNANSWERED and send.action in self._supported:
            payload, deviations, wrong = self._judge(send.action, Part.REQUEST, send.payload)
            if not wrong:
                step.items.append(InboundSend(send.id, send.action, payload, deviations))
                return
            problem, fault = str(wrong[0]), wrong[0].fault
        else:
            problem, fault = f"{send.action[:50]} is not supported here", Fault.NOT_SUPPORTED
        self.counts.refused += 1
        step.items.append(Unusable(problem, fault, malformed=False, answered=False))

    def _garbage(self, bad: Malformed, step: Step) -> None:
        self.counts.malformed += 1
        answered = bad.answer_id is not None
        step.items.append(Unusable(bad.problem, bad.fault, malformed=True, answered=answered))
        if bad.answer_id is not None:
            self._error(bad.answer_id, bad.fault, bad.problem, step)

    def _refuse_at_once(self, call_id: str, fault: Fault, problem: str, step: Step) -> None:
        self.counts.refused += 1
        step.items.append(Unusable(problem, fault, malformed=False, answered=True))
        self._error(call_id, fault, problem, step)

    def _error(self, call_id: str, fault: Fault, problem: str, step: Step) -> None:
        text = frames.write(CallError(call_id, fault.wire(self.version), problem))
        self._theirs.append(_Theirs(None, 0, text))
        self._flush(step)

    def answer(self, call: InboundCall, payload: dict[str, Any], now: float) -> Step:
        """Answer `call`. Raises InvalidOutbound when `payload` breaks the schema: still open then."""
        self._check(call.action, Part.RESPONSE, payload)
        place = self._place(call)
        place.text = frames.write(CallResult(call.id, payload))
        if call.action not in TELLS_TIME and len(place.text) <= REMEMBERED_TEXT:
            self._answers[call.id] = (place.digest, now, place.text)
            self._answers.move_to_end(call.id)
            if len(self._answers) > REMEMBERED_ANSWERS:
                self._answers.popitem(last=False)
        return self._flush(Step())

    def refuse(self, call: InboundCall, fault: Fault, text: str, now: float) -> Step:
        """Answer `call` with an error. A repeat of it is a new call: it may go better then."""
        self.counts.refused += 1
        self._place(call).text = frames.write(CallError(call.id, fault.wire(self.version), text))
        return self._flush(Step())

    def _place(self, call: InboundCall) -> _Theirs:
        for place in self._theirs:
            if place.call is call and place.text is None:
                return place
        raise OurFault(f"call {call.id} is not open")

    def _flush(self, step: Step) -> Step:
        while self._theirs and (text := self._theirs[0].text) is not None:
            step.texts.append(text)
            self._theirs.popleft()
        return step

    # ---- to the station ---------------------------------------------------------------

    @property
    def due(self) -> float | None:
        """When `tick` has something to do next; None: not of itself."""
        times = [one.until for one in self._queue]
        if self._open is not None:
            times.append(self._open.until)
        return min(times, default=None)

    def call(
        self, action: str, payload: dict[str, Any], now: float, *, timeout_s: float, ttl_s: float
    ) -> tuple[str, Step]:
        """Send a call, or queue it behind the open one; its id and what that led to.

        Raises InvalidOutbound when `payload` breaks the schema.
        """
        self._check(action, Part.REQUEST, payload)
        call_id = self._new_id()
        ours = _Ours(call_id, action, frames.write(Call(call_id, action, payload)), timeout_s, now + ttl_s)
        step = Step()
        if len(self._queue) >= QUEUE_LENGTH:
            self._end(ours, CallEvent.CLOSE, step)
        else:
            self._queue.append(ours)
            self._send_next(step, now)
        return call_id, step

    def tick(self, now: float) -> Step:
        """Let time pass: calls end that waited too long, and the next one is sent."""
        step = Step()
        if self._open is not None and self._open.until <= now:
            self.counts.timeouts += 1
            self.counts.silent_in_a_row += 1
            self._end(self._open, CallEvent.DEADLINE, step)
            self._open = None
        self._send_next(step, now)
        return step

    def close(self, now: float) -> Step:
        """The connection is gone: what was open is lost, what was queued was never sent."""
        step = Step()
        for ours in [self._open, *self._queue]:
            if ours is not None:
                self._end(ours, CallEvent.CLOSE, step)
        self._open = None
        self._queue.clear()
        self._theirs.clear()
        return step

    def _send_next(self, step: Step, now: float) -> None:
        for ours in [one for one in self._queue if one.until <= now]:
            self._queue.remove(ours)
            self._end(ours, CallEvent.DEADLINE, step)
        if self._open is None and self._queue:
            ours = self._queue.popleft()
            ours.state = after(ours.state, CallEvent.SEND)
            ours.until = now + ours.timeout_s
            self._open = ours
            step.items.append(CallSent(ours.id))
            step.texts.append(ours.text)

    def _end(self, ours: _Ours, event: CallEvent, step: Step) -> None:
        ours.state = after(ours.state, event)
        self._remember(ours)
        step.items.append(CallEnded(ours.id, ours.action, ours.state))

    def _remember(self, ours: _Ours) -> None:
        ours.text = ""
        self._ended[ours.id] = ours
        if len(self._ended) > REMEMBERED_CALLS:
            self._ended.popitem(last=False)

    def _ours_ends(
        self,
        call_id: str,
        event: CallEvent,
        step: Step,
        now: float,
        payload: dict[str, Any] | None = None,
        error: CallError | None = None,
    ) -> None:
        """An answer came: to the open call, late to an ended one, once more, or to nobody."""
        is_open = self._open is not None and self._open.id == call_id
        ours = self._open if is_open else self._ended.get(call_id)
        if ours is None:
            self.counts.foreign_answers += 1
            return
        if not allowed(ours.state, event):
            self.counts.duplicate_answers += 1
            return
        ours.state = after(ours.state, event)
        self.counts.silent_in_a_row = 0
        if is_open:
            self._open = None
            self._remember(ours)
        else:
            self.counts.late_answers += 1
        if error is not None:
            step.items.append(CallEnded(call_id, ours.action, ours.state, code=error.code, text=error.text))
        else:
            result, deviations, wrong = self._judge(ours.action, Part.RESPONSE, payload or {})
            step.items.append(CallEnded(call_id, ours.action, ours.state, result, deviations, wrong))
            if wrong and self.version is Version.OCPP21:
                # 1.6 and 2.0.1 have no answer to an answer: a CALLERROR there would be a new fault.
                code = wrong[0].fault.wire(self.version)
                step.texts.append(frames.write(CallResultError(call_id, code, str(wrong[0]))))
        self._send_next(step, now)

    # ---- both -------------------------------------------------------------------------

    def _judge(
        self, action: str, part: Part, payload: dict[str, Any]
    ) -> tuple[dict[str, Any], tuple[str, ...], tuple[Violation, ...]]:
        """The payload to go on with, what was odd about it, and what is wrong even so."""
        if schemas.valid(self.version, action, part, payload):
            return payload, (), ()
        self.counts.deviating += 1
        mended, deviations = tolerance.mend(self.version, action, part, payload)
        left = schemas.violations(self.version, action, part, mended)
        return mended, deviations, tuple(one for one in left if one.rule not in tolerance.TOLERATED)

    def _check(self, action: str, part: Part, payload: Mapping[str, Any]) -> None:
        if not schemas.valid(self.version, action, part, payload):
            raise InvalidOutbound(action, schemas.violations(self.version, action, part, payload))
