"""What a user would write otherwise: pandas and matplotlib, one process, the sample's pages.

python -m tests.benchmarks.peer EXPORTS FOLDER

Plain code of somebody who knows both libraries and these files: it reads each as it is, works out
differences with an interval, and draws what our pages show: for each athlete two pages, for each
squad a pack with a chart a measure, each athlete in it, and the same tables. It checks no row,
follows nobody through time and weighs nothing.
"""

import sys
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd

from tests.benchmarks.peer_reading import read_files, read_sets, sessions

mpl.use("pdf")
import matplotlib.pyplot as plt
from matplotlib.backends.backend_pdf import PdfPages

A4 = (8.27, 11.69)
GREY, BLUE, DARK = "#d9d9d9", "#1f6f8b", "#333333"
SHOWN, TRENDS, PANELS_A_PAGE, ROWS_A_PAGE = 10, 3, 2, 40
KEY = (
    "Diamond: latest test. Thick bar: where the true value is, 9 times in 10. Circles: test days. "
    "Grey: error. Dashed: the line."
)
NOTE = (
    "Difference in percent of the better side. One session's typical error {:.0f} %; a change "
    "between two sessions must exceed {:.0f} %; review line 10 %."
)
HOW = (
    "Right less left in percent of the better side, mean of all trials of the day; its interval "
    "from the spread of trials in this squad. Lines are custom, not limits."
)
NEXT = (
    "Some slow work on the lower side, three times a week, at the end of a session.",
    "Retest in six weeks, rested and at the same time of day.",
    "Pain, swelling, numbness or a sudden loss of strength: stop, and see medical staff first.",
    "A difference describes tests on some days. It is not a diagnosis, and it foretells nothing.",
)


def reading(row: Any) -> str:
    """The verdict of one session in words."""
    if abs(row.difference) < row.error:
        return "even, as far as we can tell"
    side = "left" if row.difference > 0 else "right"
    size = "over the line" if abs(row.difference) > 10 else "within usual"
    return f"{side} lower, {abs(row.difference):.0f} %: {size}"


def balance(axes: Any, rows: pd.DataFrame, days: pd.DataFrame, label: str) -> None:
    """A line a row: error band, interval, days, latest."""
    y = np.arange(len(rows))[::-1]
    axes.barh(y, 2 * rows["error"], left=-rows["error"], color=GREY, height=0.64)
    axes.axvline(0, color=DARK, lw=0.8)
    for line in (-10, 10):
        axes.axvline(line, color=DARK, lw=0.8, ls="--")
    axes.hlines(y, rows["low"], rows["high"], color=BLUE, lw=3)
    places = dict(zip(rows[label], y, strict=True))
    axes.scatter(
        days["difference"], days[label].map(places), s=12, facecolors="none", edgecolors=DARK
    )
    axes.scatter(rows["difference"], y, marker="D", s=28, color=BLUE, zorder=3)
    axes.set_yticks(y, rows[label], fontsize=7)
    axes.tick_params(axis="x", labelsize=7)
    for place, row in zip(y, rows.itertuples(), strict=True):
        axes.text(
            1.02, place, reading(row), transform=axes.get_yaxis_transform(),
            va="center", fontsize=7, weight="bold" if abs(row.difference) > 10 else "normal",
        )  # fmt: skip
    axes.spines[["top", "right", "left"]].set_visible(False)


def table(axes: Any, head: list[str], rows: list[list[str]]) -> None:
    """A plain table that fills its axes from the top."""
    axes.axis("off")
    if rows:
        drawn = axes.table(rows, colLabels=head, loc="upper left", cellLoc="left", edges="B")
        drawn.auto_set_font_size(False)
        drawn.set_fontsize(7)
        drawn.auto_set_column_width(list(range(len(head))))


def text(figure: Any, y: float, words: str, size: float = 9) -> None:
    """A line at this height of the page."""
    figure.text(0.08, y, words, fontsize=size)


def athlete_pdf(path: Path, who: Any, mine: pd.DataFrame, sets: pd.DataFrame) -> None:
    """Two pages: opening, tables, balance, findings; trends, card, next steps."""
    latest = mine.groupby("test", as_index=False).last()
    latest = latest.reindex(latest["difference"].abs().sort_values(ascending=False).index)
    latest = latest.head(SHOWN)
    days = mine[mine["test"].isin(latest["test"])]
    first = days.groupby("test").first()
    over = latest[latest["difference"].abs() > 10]
    with PdfPages(path) as pdf:
        figure = plt.figure(figsize=A4)
        text(figure, 0.95, who.name, 18)
        text(figure, 0.93, f"Your left and right · {who.squad}")
        text(
            figure, 0.90, f"Everyone's sides differ a little. {len(over)} of your tests stand out."
        )
        table(
            figure.add_axes((0.08, 0.72, 0.84, 0.17)),
            ["Test", "Left", "Right", "Difference %", "90 % interval"],
            [
                [r.test, f"{r.left:.4g}", f"{r.right:.4g}", f"{r.difference:.1f}",
                 f"{r.low:.1f} to {r.high:.1f}"]
                for r in latest.itertuples()
            ],
        )  # fmt: skip
        table(
            figure.add_axes((0.08, 0.58, 0.84, 0.12)),
            ["Each side's own progress", "Left, first to latest", "Right, first to latest"],
            [
                [r.test, f"{first.left[r.test]:.4g} to {r.left:.4g}",
                 f"{first.right[r.test]:.4g} to {r.right:.4g}"]
                for r in latest.head(5).itertuples()
            ],
        )  # fmt: skip
        if len(latest):
            balance(figure.add_axes((0.25, 0.28, 0.45, 0.28)), latest, days, "test")
        text(figure, 0.23, KEY, 7)
        for place, row in enumerate(over.head(5).itertuples()):
            text(figure, 0.20 - 0.025 * place, f"{row.test}: {reading(row)}, {row.low:.0f} to "
                 f"{row.high:.0f}")  # fmt: skip
        text(figure, 0.07, "Over the line: more than 10 percent. Below that nothing is shown.", 7)
        text(figure, 0.04, f"{who.name} · {who.squad} · 1 / 2", 7)
        pdf.savefig(figure)
        plt.close(figure)

        figure = plt.figure(figsize=A4)
        text(figure, 0.95, "Over time", 12)
        for place, test in enumerate(latest["test"].head(TRENDS)):
            trend = mine[mine["test"] == test]
            across, down = place % 2, place // 2
            axes = figure.add_axes((0.12 + 0.45 * across, 0.76 - 0.22 * down, 0.34, 0.15))
            smooth = trend["difference"].ewm(alpha=0.4).mean()
            axes.fill_between(
                trend["tested_on"], smooth - trend["error"], smooth + trend["error"], color=GREY
            )
            axes.plot(trend["tested_on"], smooth, color=BLUE)
            axes.scatter(trend["tested_on"], trend["difference"], s=12, color=DARK)
            axes.axhline(0, color=DARK, lw=0.8)
            axes.set_title(test, fontsize=9, loc="left")
            axes.set_xticks(trend["tested_on"].iloc[[0, -1]].unique())
            axes.tick_params(labelsize=7)
        text(figure, 0.50, "Above zero the right side is higher. Shaded: where the value was.", 7)
        text(figure, 0.46, "Next 6 weeks", 12)
        weaker = "left" if len(latest) and latest["difference"].iloc[0] > 0 else "right"
        table(
            figure.add_axes((0.08, 0.28, 0.84, 0.16)),
            ["In this order", "What", "Sets x reps", "Done"],
            [
                ["Strength", f"{name}, {weaker} side first", "3 x 8", "o o o"]
                for name in sets["exercise"].value_counts().head(5).index
            ],
        )
        for place, line in enumerate(NEXT):
            text(figure, 0.24 - 0.025 * place, line)
        text(figure, 0.04, f"{who.name} · {who.squad} · 2 / 2", 7)
        pdf.savefig(figure)
        plt.close(figure)


def table_pages(pdf: PdfPages, title: str, head: list[str], rows: list[list[str]]) -> None:
    """As many pages as the rows need."""
    for start in range(0, max(len(rows), 1), ROWS_A_PAGE):
        figure = plt.figure(figsize=A4)
        text(figure, 0.95, title, 14)
        table(figure.add_axes((0.06, 0.06, 0.88, 0.86)), head, rows[start : start + ROWS_A_PAGE])
        pdf.savefig(figure)
        plt.close(figure)


def squad_pdf(
    path: Path, squad: str, ours: pd.DataFrame, sets: pd.DataFrame, files: list[list[str]]
) -> None:
    """Agenda, glance, a chart a measure, training, reliability, coverage, files, method."""
    latest = ours.groupby(["name", "test"], as_index=False).last()
    over = latest[latest["difference"].abs() > 10]
    over = over.reindex(over["difference"].abs().sort_values(ascending=False).index).head(12)
    by_test = ours.groupby("test").agg(
        error=("error", "first"), spread=("difference", "std"), days=("tested_on", "nunique"),
        people=("name", "nunique"), sessions=("name", "size"), mean=("difference", "mean"),
        low=("difference", "min"), high=("difference", "max"),
        first=("tested_on", "min"), last=("tested_on", "max"),
    )  # fmt: skip
    with PdfPages(path) as pdf:
        agenda = [
            [str(n), r.name, f"{r.test}: {reading(r)} ({r.low:.0f} to {r.high:.0f})", "retest"]
            for n, r in enumerate(over.itertuples(index=False), 1)
        ]
        table_pages(pdf, f"{squad}: sides this week", ["", "Who", "What", "Next"], agenda)
        marks = latest.assign(mark=np.where(latest["difference"].abs() > 10, "o", "."))
        glance = marks.pivot(index="name", columns="test", values="mark").fillna("").iloc[:, :8]
        rows = [[name, *cells] for name, *cells in glance.itertuples()]
        heads = ["", *(test[:12] for test in glance.columns)]
        table_pages(pdf, "The squad at a glance", heads, rows)
        for start in range(0, len(by_test), PANELS_A_PAGE):
            figure = plt.figure(figsize=A4)
            text(figure, 0.96, KEY, 7)
            for place, row in enumerate(by_test[start : start + PANELS_A_PAGE].itertuples()):
                rows_of = latest[latest["test"] == row.Index]
                axes = figure.add_axes((0.22, 0.54 - 0.47 * place, 0.48, 0.36))
                axes.set_title(row.Index, fontsize=9, loc="left")
                text(figure, 0.93 - 0.47 * place, NOTE.format(row.error, 2.77 * row.error), 7)
                balance(axes, rows_of, ours[ours["test"] == row.Index], "name")
            pdf.savefig(figure)
            plt.close(figure)
        table_pages(
            pdf, "Training: whose sides got what", ["Athlete", "Exercise", "Left", "Right", "Part"],
            uneven_work(sets),
        )  # fmt: skip
        figures = list(by_test.columns[:8])
        shown = by_test[figures].itertuples()
        table_pages(
            pdf, "What these tests can tell", ["Test", *figures],
            [[test, *(f"{v:.3g}" for v in values)] for test, *values in shown],
        )  # fmt: skip
        table_pages(
            pdf, "Who was tested", ["Test", "First", "Last", "Days", "People"],
            [
                [r.Index, f"{r.first:%d %b}", f"{r.last:%d %b}", str(r.days), str(r.people)]
                for r in by_test.itertuples()
            ],
        )  # fmt: skip
        table_pages(pdf, "Files and rows", ["File", "Rows", "People", "First", "Last"], files)
        table_pages(pdf, "Method and cautions", ["Test", "How"], [[t, HOW] for t in by_test.index])


def uneven_work(sets: pd.DataFrame) -> list[list[str]]:
    """Athlete and exercise whose sides got unequal work in the last four weeks."""
    sided = sets[sets["side"].isin(["left", "right"])]
    recent = sided[sided["trained_on"] > sided["trained_on"].max() - pd.Timedelta(weeks=4)]
    work = recent.pivot_table(
        index=["athlete_id", "exercise"], columns="side", values="reps", aggfunc="sum"
    )
    work["part"] = work["left"] / (work["left"] + work["right"])
    uneven = work[(work["part"] - 0.5).abs() > 0.02].reset_index().head(ROWS_A_PAGE)
    return [[a, e, f"{x:.0f}", f"{y:.0f}", f"{p:.2f}"] for _, a, e, x, y, p in uneven.itertuples()]


def main() -> None:
    """Everything from files to PDFs."""
    exports, folder = Path(sys.argv[1]), Path(sys.argv[2])
    (folder / "athletes").mkdir(parents=True)
    roster = pd.read_excel(exports / "roster_autumn_2026.xlsx", header=1)
    roster.columns = roster.columns.str.lower().str.replace(" ", "_")
    trials, sets = read_files(exports), read_sets(exports)
    ours = sessions(trials, sets, roster)
    by_file = trials.groupby("file").agg(
        rows=("value", "size"), people=("athlete_id", "nunique"),
        first=("tested_on", "min"), last=("tested_on", "max"),
    )  # fmt: skip
    files = [
        [r.Index, str(r.rows), str(r.people), f"{r.first:%d %b}", f"{r.last:%d %b}"]
        for r in by_file.itertuples()
    ]
    sets = sets.merge(roster[["athlete_id", "squad"]], on="athlete_id")
    for squad, of_squad in ours.groupby("squad"):
        path = folder / f"squad_{squad}.pdf"
        squad_pdf(path, str(squad), of_squad, sets[sets["squad"] == squad], files)
    for athlete in roster.itertuples():
        mine = ours[ours["athlete_id"] == athlete.athlete_id]
        own = sets[sets["athlete_id"] == athlete.athlete_id]
        athlete_pdf(folder / "athletes" / f"{athlete.athlete_id}.pdf", athlete, mine, own)


if __name__ == "__main__":
    main()
