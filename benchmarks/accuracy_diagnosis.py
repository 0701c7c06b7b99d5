"""Causes, odds and actions on visits from physics of its own (`other_physics`)."""

import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import Any

import numpy as np
from tests.diagnosis.other_physics import make

from eavelight.app.diagnosing.case import case_of
from eavelight.app.diagnosing.compose import with_diagnosis
from eavelight.assess.assessment import assess, context_of
from eavelight.diagnosis.diagnose import diagnose
from eavelight.standards.actions import action_kinds
from eavelight.standards.profiles import load_profile

Row = tuple[str, str, str]
Result = dict[str, Any]
VISITS, FIRST_SEED = 3000, 50_000
MOST = 13


def actions_to_fix(actions: Sequence[Any], truth: Sequence[tuple[str, str]]) -> int:
    """Actions until each true cause had one that cures it at its place."""
    worst = 0
    for cause, place in truth:
        count = MOST
        for number, item in enumerate(actions, start=1):
            kind = action_kinds()[item.action]
            if cause not in kind.resolves or not kind.success:
                continue
            if place and item.at not in {place, "drop", "box"}:
                continue
            count = number
            break
        worst = max(worst, count)
    return worst


def judge(seed: int) -> Result:
    case = make(seed)
    profile = load_profile()
    args = ("V", case.plan, case.observations, profile, case.others)
    plain = assess(*args)
    built = case_of(context_of(*args), plain.findings)
    diagnosis = diagnose(built)
    full = with_diagnosis(plain, diagnosis)
    shares = [(c.cause, c.probability) for c in diagnosis.causes]
    return {
        "seed": seed, "truth": case.truth, "tells": case.tells, "shares": shares,
        "places": [(c.cause, c.at, c.probability) for c in diagnosis.causes],
        "oracle": case.posterior,
        "ours": actions_to_fix(full.next_actions, case.truth),
        "fixed": actions_to_fix(plain.next_actions, case.truth),
        "names": [a.action for a in full.next_actions[:4]],
    }  # fmt: skip


def collect(count: int = VISITS, first: int = FIRST_SEED) -> list[Result]:
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with ProcessPoolExecutor(max_workers=os.cpu_count()) as pool:
        return list(pool.map(judge, range(first, first + count), chunksize=20))


def calibration(
    results: list[Result], bins: int = 10
) -> tuple[float, list[tuple[float, float, int]]]:
    """Expected calibration error over all causes, and the rows of its picture."""
    p: list[float] = []
    y: list[bool] = []
    for item in results:
        true = {c for c, _ in item["truth"]} or {"none"}
        best: dict[str, float] = {}
        for cause, share in item["shares"]:
            best[cause] = best.get(cause, 0.0) + share
        for cause, share in best.items():
            p.append(min(share, 1.0))
            y.append(cause in true)
    stated, held = np.array(p), np.array(y, float)
    edges = np.minimum((stated * bins).astype(int), bins - 1)
    rows, error = [], 0.0
    for k in range(bins):
        here = edges == k
        if here.any():
            mean, share = float(stated[here].mean()), float(held[here].mean())
            rows.append((mean, share, int(here.sum())))
            error += float(here.mean()) * abs(mean - share)
    return error, rows


def top_calibration(results: list[Result], bins: int = 10) -> float:
    """The same for the first cause alone, which is harder to meet."""
    p = np.array([min(i["shares"][0][1], 1.0) for i in results])
    y = np.array([_hit(i, 1) for i in results], float)
    edges = np.minimum((p * bins).astype(int), bins - 1)
    return float(
        sum(
            (edges == k).mean() * abs(p[edges == k].mean() - y[edges == k].mean())
            for k in range(bins)
            if (edges == k).any()
        )
    )


def _hit(item: Result, depth: int) -> bool:
    true = {c for c, _ in item["truth"]} or {"none"}
    return any(cause in true for cause, _ in item["shares"][:depth])


def summary(results: list[Result]) -> dict[str, float]:
    told = [i for i in results if i["tells"]]
    sound = [i for i in results if not i["truth"]]
    faulty = [i for i in results if i["truth"]]
    first = np.mean([_hit(i, 1) for i in told])
    two = np.mean([_hit(i, 2) for i in told])
    alarm = np.mean(
        [any(c != "none" and p > 0.5 for c, p in i["shares"]) for i in sound]
    )
    # an observer who knows how the visits were drawn is misled by the same looks
    knowing = np.mean(
        [any(c != "none" and p > 0.5 for c, p in i["oracle"].items()) for i in sound]
    )
    ours = np.mean([i["ours"] for i in faulty])
    fixed = np.mean([i["fixed"] for i in faulty])
    error, _ = calibration(results)
    return {
        "tells": len(told) / len(results), "first": first, "two": two, "alarm": alarm,
        "knowing": knowing,
        "ece": error, "ece_top": top_calibration(results), "ours": ours, "fixed": fixed,
    }  # fmt: skip


def draw(results: list[Result], path: str) -> None:
    """The calibration picture of the page: odds stated against how often they held."""
    from matplotlib.figure import Figure

    _, rows = calibration(results)
    figure = Figure(figsize=(5.2, 5.2), layout="constrained")
    axes = figure.add_subplot()
    axes.plot([0, 1], [0, 1], color="black", linewidth=1.0)
    axes.scatter(
        [mean for mean, _, _ in rows],
        [share for _, share, _ in rows],
        s=[20.0 + 12.0 * np.log10(count) ** 2 for _, _, count in rows],
        color="#00509D",
        zorder=3,
    )
    for mean, share, count in rows:
        axes.annotate(
            f"{count}", (mean, share), xytext=(9, -11), textcoords="offset points"
        )
    axes.set(
        xlim=(0, 1),
        ylim=(0, 1),
        xlabel="probability stated for a cause",
        ylabel="share of visits where it was true",
    )
    axes.grid(color="#D0D0D0", linewidth=0.6)
    figure.savefig(path, dpi=110, metadata={"Software": None})


def run() -> list[Row]:
    s = summary(collect())
    return [
        ("visits where evidence can tell (10 to 1)", f"{s['tells']:.1%}", ">= 70 %"),
        ("true cause first, where it can tell", f"{s['first']:.1%}", ">= 92 %"),
        ("true cause in the first two", f"{s['two']:.1%}", ">= 97 %"),
        ("false alarms on sound visits", f"{s['alarm']:.2%}", "<= 1 %"),
        ("the same, if the drawing were known", f"{s['knowing']:.2%}", "-"),
        ("calibration error, all causes", f"{s['ece']:.3f}", "<= 0.05"),
        ("calibration error, first cause only", f"{s['ece_top']:.3f}", "<= 0.05"),
        (
            "mean actions to the right fix",
            f"{s['ours']:.2f}",
            f"<= {0.7 * s['fixed']:.2f}",
        ),
        ("the same, fixed cheap-first order", f"{s['fixed']:.2f}", "-"),
    ]
