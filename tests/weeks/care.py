"""Nobody who hurts is passed over: pain and signs become flags, and what is unread is asked."""

from collections.abc import Iterable
from datetime import date, timedelta
from html import unescape

from pipeline.catalogue import catalogue
from pipeline.report.pdf.render import source_of
from tests.weeks.decks import Odd
from tests.weeks.exports import Said
from tests.weeks.folders import Made
from tests.weeks.naive import Told
from tests.weeks.naive_cells import key

DAYS = 28  # for so long a sign asks for medical staff
REFERS = 4.0  # pain from which an adult, or somebody of no known age, is referred
CALMING = "nobody needs medical staff"


def faults(told: Told, build: Made) -> list[str]:
    """Pain and signs that raise no flag, and holes that a page does not name or talks over."""
    since = build.summary.as_of - timedelta(days=DAYS)
    return [*_unflagged(told, build, since), *_talked_over(told, build, since)]


def _everything_said(told: Told) -> Iterable[Said]:
    for standing in (*told.trials.values(), *told.sets.values()):
        for one in standing:
            yield one.said
    for said in told.silent.values():
        yield from said


def _unflagged(told: Told, build: Made, since: date) -> list[str]:
    """Pain and signs of the last weeks that no flag tells of, decided or not."""
    flags = {_plain(flag) for (flag,) in build.fetch("select flag_id from mart_flags")}
    flags |= {_plain(flag) for (flag,) in build.fetch("select flag_id from raw_decisions")}
    wanted: dict[str, Said] = {}
    for one in _everything_said(told):
        if date.fromisoformat(one.day) <= since:
            continue
        if one.pain is not None and not isinstance(one.pain, Odd) and one.pain >= REFERS:
            wanted[_plain(f"{one.athlete}.{one.what}.refer")] = one
        sign = catalogue().rules.sign(one.note) if one.note else None
        if sign:
            wanted[_plain(f"{one.athlete}.{sign.id}.refer")] = one
    return [f"no flag of {one}" for flag, one in wanted.items() if flag not in flags]


def _plain(flag: str) -> str:
    """A flag by its letters and digits: exercises outside the dictionary are spelled anyhow."""
    return key(flag)


def _talked_over(told: Told, build: Made, since: date) -> list[str]:
    """Packs that do not name whom a hole is about, or say that nobody needs medical staff."""
    people = {
        who: (name, squad)
        for who, name, squad in build.fetch("select athlete_id, name, squad from stg_athletes")
    }
    holes = {who for who in told.roster.unclear}
    strangers = False
    for rows in told.rows.values():
        for row in rows:
            if row.hole is None or (row.hole[1] and date.fromisoformat(row.hole[1]) <= since):
                continue
            who, _ = row.hole
            strangers |= who is None
            holes |= {who} if who else set()
    found = []
    for page in build.pages:
        if not hasattr(page, "unread"):
            continue
        own = {people[who][0] for who in holes if people.get(who, ("", ""))[1] == page.squad}
        lines = " ".join(page.unread)
        unnamed = [name for name in sorted(own) if name not in lines and not page.unread_more]
        found += [f"pack of {page.squad}: nothing is asked about {name}" for name in unnamed]
        if (own or strangers) and CALMING in unescape(source_of(page)):
            found.append(f"pack of {page.squad}: {CALMING}, over a hole")
    return found
