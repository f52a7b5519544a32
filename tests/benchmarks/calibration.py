"""How right the estimate is about what it says, on squads whose true differences are known.

    python -m tests.benchmarks.calibration [--squads 200] [--seed 1]

Prints a table in Markdown: clean trials, the same with 1.5 % of the trials botched, and the best
that could be had from the clean ones if every squad's true figures were known.
"""

import argparse
import time
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from pipeline.estimate import estimate
from pipeline.settings import Settings
from tests.benchmarks.best_possible import best_today
from tests.benchmarks.simulate import Scenario, Simulated, simulate

BINS = 10
FULL_BIN = 200  # cases from which a bin is judged


@dataclass(frozen=True)
class Score:
    """What a run came to; shares are fractions, errors in points (100 d)."""

    athletes: int
    cases: int
    trials: int
    calibration_error: float
    worst_bin: float  # largest gap of a bin with FULL_BIN cases or more
    covered: float
    confirmed: int
    confirmed_right: float
    rule_recall: float
    rule_false: int
    false_at_recall: int
    even_false_share: float  # of the plain rule's, in measures without an expected lead
    estimate_error: float
    session_error: float
    seconds: float
    bins: tuple[tuple[float, float, int], ...]  # mean chance said, share true, cases

    @property
    def false_share(self) -> float:
        return self.false_at_recall / self.rule_false

    @property
    def error_share(self) -> float:
        return self.estimate_error / self.session_error


def run(scenario: Scenario, settings: Settings | None = None) -> Score:
    """Simulate, estimate and compare with the truth."""
    simulated = simulate(scenario)
    begin = time.perf_counter()
    found = estimate(
        simulated.trials,
        simulated.athletes,
        simulated.measures,
        simulated.as_of,
        settings or Settings(),
    )
    return scored(simulated, found.today, time.perf_counter() - begin)


def scored(simulated: Simulated, today: pl.DataFrame, seconds: float = 0.0) -> Score:
    """The estimates against the truth and against the plain 10 % rule on the best trial."""
    rows = today.join(simulated.truth, on=["athlete_id", "measure"]).join(
        _best_trial_rule(simulated.trials), on=["athlete_id", "measure"]
    )
    even = rows.filter(pl.col("measure").is_in(_even_measures(simulated)))
    chance = rows["chance_over_line"].to_numpy()
    true_d = rows["true_d"].to_numpy()
    is_over = _is_over(rows)
    flagged = rows["flagged"].to_numpy()
    bins = _bins(chance, is_over)
    confirmed = (chance >= 0.80) & (rows["same_side_days"].to_numpy() >= 2)
    recall = float((flagged & is_over).sum() / is_over.sum())
    return Score(
        athletes=simulated.athletes.height,
        cases=rows.height,
        trials=simulated.trials.height,
        calibration_error=sum(n * abs(said - share) for said, share, n in bins) / rows.height,
        worst_bin=max(abs(said - share) for said, share, n in bins if n >= FULL_BIN),
        covered=float(
            ((rows["low"].to_numpy() <= true_d) & (true_d <= rows["high"].to_numpy())).mean()
        ),
        confirmed=int(confirmed.sum()),
        confirmed_right=float(is_over[confirmed].mean()),
        rule_recall=recall,
        rule_false=int((flagged & ~is_over).sum()),
        false_at_recall=_false_at_recall(chance, is_over, recall),
        even_false_share=_false_share(even),
        estimate_error=100 * _rms(rows["estimate"].to_numpy() - true_d),
        session_error=100 * _rms(rows["observed"].to_numpy() - true_d),
        seconds=seconds,
        bins=bins,
    )


def _is_over(rows: pl.DataFrame) -> np.ndarray:
    return ((rows["true_d"] - rows["true_lead"]).abs() > rows["line"]).to_numpy()


def _even_measures(simulated: Simulated) -> list[str]:
    return [name for name, measure in simulated.measures.items() if measure.lead.by == "none"]


def _false_share(rows: pl.DataFrame) -> float:
    """Our false flags as a share of the plain rule's, at its recall."""
    is_over, flagged = _is_over(rows), rows["flagged"].to_numpy()
    recall = float((flagged & is_over).sum() / is_over.sum())
    ours = _false_at_recall(rows["chance_over_line"].to_numpy(), is_over, recall)
    return ours / float((flagged & ~is_over).sum())


def _best_trial_rule(trials: pl.DataFrame) -> pl.DataFrame:
    """Athlete and measure, and whether the best trials of the latest day differ by 10 %."""
    latest = pl.col("tested_on") == pl.col("tested_on").max().over("athlete_id", "measure")
    best = (
        pl.col("score").filter(pl.col("side") == "right").max()
        - pl.col("score").filter(pl.col("side") == "left").max()
    )
    return (
        trials.filter(latest)
        .group_by("athlete_id", "measure")
        .agg(flagged=1 - (-best.abs()).exp() >= 0.10)
    )


def _bins(chance: np.ndarray, is_over: np.ndarray) -> tuple[tuple[float, float, int], ...]:
    place = np.minimum((chance * BINS).astype(int), BINS - 1)
    hits = [(place == number) for number in range(BINS)]
    return tuple(
        (float(chance[hit].mean()), float(is_over[hit].mean()), int(hit.sum()))
        for hit in hits
        if hit.any()
    )


def _false_at_recall(chance: np.ndarray, is_over: np.ndarray, recall: float) -> int:
    """False flags when the likeliest cases are flagged until this share of the true is found."""
    order = np.argsort(-chance, kind="stable")
    found = np.cumsum(is_over[order])
    needed = int(np.searchsorted(found, recall * is_over.sum() - 1e-9))
    return int(needed + 1 - found[needed])


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt((values**2).mean()))


def table(clean: Score, botched: Score, best: Score) -> str:
    """The runs beside the figures they have to meet and those of the first prototype."""
    rows = [
        ("calibration error", "{:.4f}", "calibration_error", "≤ 0.008 / 0.010", "0.005 / 0.008"),
        ("worst bin of 200 or more cases", "{:.3f}", "worst_bin", "≤ 0.04", "0.03"),
        ("90 % intervals cover", "{:.3f}", "covered", "0.88 to 0.92", "0.888"),
        ("`confirmed` is right", "{:.3f}", "confirmed_right", "≥ 0.95", "0.97"),
        ("of the true ones the plain rule finds", "{:.3f}", "rule_recall", "", ""),
        ("its false flags", "{:,d}", "rule_false", "", "550"),
        ("ours at the same recall", "{:,d}", "false_at_recall", "", "63"),
        ("share of the plain rule's", "{:.3f}", "false_share", "≤ 0.12 / 0.17", "0.115 / 0.20"),
        ("the same without grip and its lead", "{:.3f}", "even_false_share", "", ""),
        ("error of the estimate, points", "{:.2f}", "estimate_error", "", "2.4"),
        ("error of the latest session", "{:.2f}", "session_error", "", "5.9"),
        ("share of the session's", "{:.3f}", "error_share", "≤ 0.45", "0.41"),
        ("athletes", "{:,d}", "athletes", "", "1,019"),
        ("trials", "{:,d}", "trials", "", "143,572"),
        ("seconds", "{:.1f}", "seconds", "", "6"),
    ]
    lines = [
        "| | clean trials | 1.5 % botched | best possible | wanted | first prototype |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for label, form, name, wanted, prototype in rows:
        values = [form.format(getattr(score, name)) for score in (clean, botched, best)]
        lines.append(f"| {label} | {' | '.join(values)} | {wanted} | {prototype} |")
    return "\n".join(lines)


def bin_table(score: Score) -> str:
    """Chance said and share true, bin by bin."""
    lines = ["| chance said | truly over the line | cases |", "| ---: | ---: | ---: |"]
    lines += [f"| {said:.3f} | {share:.3f} | {n:,d} |" for said, share, n in score.bins]
    return "\n".join(lines)


def main() -> None:
    """Both runs, printed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--squads", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    scenario = Scenario(squads=chosen.squads, seed=chosen.seed)
    clean, botched = run(scenario), run(replace(scenario, botched=0.015))
    simulated = simulate(scenario)
    best = scored(simulated, best_today(simulated))
    print(table(clean, botched, best), bin_table(clean), bin_table(botched), sep="\n\n")


if __name__ == "__main__":
    main()
