"""Score tables as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .scorer import FalseAlarm, FaultResult, Figures, Score, by_fault, false_by, figures, spread

HEAD = f"{'':34}{'faults':>7}{'called':>8}{'reach.':>8}{'left med':>9}{'mean':>6}{'right':>7}{'(wide)':>8}"
TARGET = (
    "target: called at least 95 %, at most 1 false call in 100 healthy samples, half of the window left, right 90 %"
)

MEANS = (
    "right: the true source named first at the first alarm; wide: with others of another metal; last: right at the "
    "last alarm\nbefore the failure; could: right at the first alarm by someone who sees the fault's metal alone and "
    "knows what hides it;\ntrue: alarms between onset and failure, of these and the false ones together"
)


def _number(value: float, digits: int = 0) -> str:
    return "-" if value != value else f"{value:.{digits}f}"


def _row(name: str, item: Figures) -> str:
    return (
        f"{name[:33]:34}{item.faults:>7}{_number(item.called_pct):>8}{_number(item.reachable_pct):>8}"
        f"{_number(item.left_median_pct):>9}{_number(item.left_mean_pct):>6}{_number(item.right_pct):>7}"
        f"{_number(item.wide_pct):>8}"
    )


def summary(scores: Sequence[Score], per_seed: dict[str, list[Score]]) -> str:
    """One line per judge, with the spread over the seeds."""
    head = f"{'judge':22}{'faults':>7}{'called %':>16}{'false/100':>16}{'left med %':>16}{'mean':>6}"
    lines = [head + f"{'right %':>16}{'wide':>6}{'last':>6}{'could':>7}{'true %':>8}"]
    for score in scores:
        item = figures(score)
        wide = spread(per_seed[score.judge])
        lines.append(
            f"{score.judge:22}{item.faults:>7}"
            f"{_between(item.called_pct, wide['called_pct']):>16}"
            f"{_between(item.false_per_100, wide['false_per_100'], 1):>16}"
            f"{_between(item.left_median_pct, wide['left_median_pct']):>16}"
            f"{_number(item.left_mean_pct):>6}"
            f"{_between(item.right_pct, wide['right_pct']):>16}"
            f"{_number(item.wide_pct):>6}{_number(item.right_last_pct):>6}{_number(item.nameable_pct):>7}"
            f"{_number(item.true_pct):>8}"
        )
    lines.append("in brackets: lowest to highest over the seeds")
    lines.append(MEANS)
    lines.append(TARGET)
    return "\n".join(lines)


def _between(value: float, ends: tuple[float, float], digits: int = 0) -> str:
    return f"{_number(value, digits)} ({_number(ends[0], digits)}-{_number(ends[1], digits)})"


def details(score: Score) -> str:
    """The tables of one judge: per kind of fault, kind of engine, confounder, doubling time."""
    item = figures(score)
    stints = 100 * score.short_stints / max(item.healthy, 1)
    head = f"== {score.judge}: {score.samples} samples, {item.healthy} of them healthy, {item.faults} faults, "
    lines = [head + f"{score.seconds:.1f} s; Short stint on {stints:.1f} of 100 healthy samples"]
    tables: tuple[tuple[str, object], ...] = (
        ("kind of fault", lambda result: [result.fault.kind]),
        ("kind of engine", lambda result: [result.fault.family]),
        ("confounder in the window", lambda result: sorted(result.confounders) or ["none"]),
        ("doubling time", lambda result: [_doubling(result)]),
        ("build hours at onset", lambda result: [_onset(result)]),
        ("visible at best", lambda result: [_visible(result)]),
        ("samples in the window", lambda result: [_window_samples(result)]),
    )
    for title, key in tables:
        lines += ["", f"{title}", HEAD]
        lines += [_row(name, found) for name, found in by_fault(score, key)]  # type: ignore[arg-type]
    lines += ["", "false Look inside / Park on healthy samples, by confounder"]
    lines += _false_rows(false_by(score, lambda truth: sorted(truth.confounders) or ["none"]))
    lines += ["", "false Look inside / Park on healthy samples, by kind of engine"]
    lines += _false_rows(false_by(score, lambda truth: [truth.family]))
    return "\n".join(lines)


def _doubling(result: FaultResult) -> str:
    hours = result.fault.doubling_h
    if hours <= 0.0:
        return "steps"
    for limit, word in ((1.5, "1 - 1.5 h"), (2.5, "1.5 - 2.5 h"), (5.0, "2.5 - 5 h"), (9.0, "5 - 9 h")):
        if hours < limit:
            return word
    return "over 9 h"


def _onset(result: FaultResult) -> str:
    for limit in (4, 10, 20, 40):
        if result.fault.onset_h < limit:
            return f"before {limit} h"
    return "40 h or later"


def _visible(result: FaultResult) -> str:
    for limit in (4, 8, 15, 30):
        if result.best_seen_sd < limit:
            return f"under {limit} sd"
    return "30 sd or more"


def _window_samples(result: FaultResult) -> str:
    count = result.samples_in_window
    return str(count) if count < 4 else ("4 - 7" if count < 8 else "8 or more")


def _false_rows(rows: Iterable[tuple[str, int, int]]) -> list[str]:
    return [f"  {name:32}{alarms:>5} of {count:>6}{100 * alarms / count:>8.1f} %" for name, alarms, count in rows]


def explain(score: Score, most: int = 25) -> str:
    """The worst misses and the false alarms, with engine and sample, for a look at each."""
    missed = sorted((item for item in score.faults if item.left is None), key=lambda item: -item.best_seen_sd)
    late = sorted(
        (item for item in score.faults if item.left is not None and item.left < 0.25),
        key=lambda item: -item.best_seen_sd,
    )
    wrong = [item for item in score.faults if item.call is not None and not item.right]
    lines = ["", f"-- never called: {len(missed)}, most visible first (sd: fault metal over reading noise at its best)"]
    lines += [_fault_line(item) for item in missed[:most]]
    lines += ["", f"-- called with less than a quarter of the window left: {len(late)}"]
    lines += [_fault_line(item) for item in late[:most]]
    lines += ["", f"-- another source named first: {len(wrong)}"]
    lines += [_fault_line(item) for item in wrong[:most]]
    lines += ["", f"-- false alarms: {len(score.false_alarms)}"]
    lines += [_alarm_line(item) for item in score.false_alarms[: 2 * most]]
    return "\n".join(lines)


def _fault_line(item: FaultResult) -> str:
    fault = item.fault
    true = fault.outside or " + ".join(sorted(fault.parts))
    said = ""
    if item.call is not None:
        first = item.call.reasons[0] if item.call.reasons else None
        said = f" | {item.call.call} {item.call.sample} at {item.call.build_h} h, {100 * (item.left or 0):.0f} % left: "
        said += f"{first.source} ({first.kind})" if first else "no reason"
    return (
        f"{item.world:6}{fault.engine:8} b{fault.build} {fault.family:24}{fault.kind:24}{true:36} "
        f"{fault.onset_h:6.1f}-{fault.failure_h:5.1f} h x2/{fault.doubling_h:4.1f} n{item.samples_in_window:<3} "
        f"{item.best_seen_sd:5.1f} sd{said}"
    )


def _alarm_line(item: FalseAlarm) -> str:
    call = item.call
    first = call.reasons[0] if call.reasons else None
    why = f"{first.source} ({first.kind}) {first.text[:90]}" if first else "no reason"
    return (
        f"{item.world:6}{call.engine:8} b{call.build} {call.sample:9} {call.build_h:6.1f} h {item.truth.family:24}"
        f"{call.call:12}{why} | {', '.join(sorted(item.truth.confounders))}"
    )
