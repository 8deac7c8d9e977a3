#!/usr/bin/env python3
"""Counts nine measures again, from the raw wide export, and compares them with a report.json.

Written from the written rules alone (the rules table of the project), without the program's code and without its
tables: one plain pass a person, every lesion as a list of days. It knows the columns of the invented sample practice.

    recount.py EXPORT.csv REPORT.json [--data-start 2023-01-01] [--cut-off 2025-12-31]

Prints a line a measure and quarter; exit code 1 when any figure differs. Python 3.9 or later, nothing else.
"""
import argparse, collections, csv, datetime, json, math, sys

MISSING = {"", "-", "unk", "N/A"}
STATES = {"O": "open", "C": "closed", "X": "excised"}


def day_of(text):
    try:
        return datetime.datetime.strptime(text, "%d/%m/%Y").date().toordinal()
    except ValueError:
        return None


def quarter_of(day):
    date = datetime.date.fromordinal(day)
    return f"{date.year} Q{(date.month - 1) // 3 + 1}"


class Person:
    """Everything recorded of one person up to the cut-off."""

    def __init__(self):
        self.kept, self.examined, self.wounds, self.events = set(), set(), collections.defaultdict(list), []
        self.foot_examined, self.sizes, self.first_contact = {"L": set(), "R": set()}, {}, None
        self.death, self.legs_lost_before = None, set()


def people_of(path, cut_off):
    people = collections.defaultdict(Person)
    seen = set()
    for row in csv.DictReader(open(path, encoding="utf-8-sig")):
        content = tuple(row.values())
        day = day_of(row["vis_date"])
        if content in seen or not row["pat_ref"] or day is None or day > cut_off:
            continue
        seen.add(content)
        person = people[row["pat_ref"]]
        person.death = day_of(row["dod"]) or person.death
        person.first_contact = day_of(row["first_contact"]) or person.first_contact
        for side in "LR":
            if row[f"{side.lower()}_prev_amp"] == "MAJ":
                person.legs_lost_before.add(side)
        for slot in "12":
            at = day_of(row[f"ev{slot}_date"])
            if row[f"ev{slot}_kind"] not in MISSING and at is not None and at <= cut_off:
                kind = row[f"ev{slot}_kind"]
                person.events.append((at, kind, row[f"ev{slot}_side"], row[f"ev{slot}_ref"]))
                if kind == "RIP":
                    person.death = person.death or at
        if row["attend"] != "ATT":
            continue
        person.kept.add(day)
        wounds = [slot for slot in "1234" if row[f"w{slot}_ref"] not in MISSING]
        for side in "LR":
            exam = [value for key, value in row.items() if key[:2] == f"{side.lower()}_" and "prev" not in key]
            looked = [slot for slot in wounds if row[f"w{slot}_side"] == side and row[f"w{slot}_by"] == "CLN"]
            if looked or any(value not in MISSING for value in exam):
                person.foot_examined[side].add(day)
        if day in person.foot_examined["L"] | person.foot_examined["R"]:
            person.examined.add(day)  # a clinician looked at a foot
        for slot in wounds:
            state = STATES.get(row[f"w{slot}_state"])
            if state == "closed" and row[f"w{slot}_by"] != "CLN":
                state = None  # only a clinician closes
            tell = lambda name: None if row[f"w{slot}_{name}"] in MISSING else row[f"w{slot}_{name}"]
            size = lambda name, most: next((float(t) for t in [row[f"w{slot}_{name}"]] if t.replace(".", "", 1).isdigit() and 0 <= float(t) <= most), None)
            person.sizes[(tell("ref"), day)] = size("len", 350), size("wid", 350), size("area", 1225)
            person.wounds[tell("ref")].append((day, state, tell("side"), tell("site"), tell("origin"), tell("from"), tell("into")))
    for person in people.values():
        person.events += [removal for label, rows in person.wounds.items() for removal in untold_removals(person, label, rows)]
    return people


def untold_removals(person, label, rows):
    """A lesion that was there and is later found removed, with no amputation of that leg in between: an operation whose row
    is missing. It counts on the day of the finding, once."""
    states = {}
    for day, state, side, *_ in sorted(rows, key=lambda row: row[0]):
        if state:
            states.setdefault((side, day), set()).add(state)
    for side in "LR":
        days = sorted(day for at, day in states if at == side)
        for before, day in zip(days, days[1:]):
            gone = [states[side, at] & {"open", "excised"} == {"excised"} for at in (before, day)]
            between = [at for at, kind, leg, _ in person.events if kind in ("AMIN", "AMAJ") and leg == side and before <= at <= day]
            if gone == [False, True] and not between:
                yield day, "AMIN", side, label


class Lesion:
    """One lesion with the parts it split into: what was told of it, a state a day."""

    def __init__(self, label, side):
        self.label, self.side, self.rows, self.parts = label, side, [], []
        self.days, self.surgical, self.merged = [], False, None

    def settle(self):
        parts = [self] + self.parts
        everything = [(day, part, state) for part, one in enumerate(parts) for day, state, *_ in one.rows
                      if one.merged is None or day < one.merged]
        everything += [(day, 0, None) for one in parts if one.merged for day, *_ in one.rows]
        last, days = {}, collections.defaultdict(dict)
        order = {"open": 3, "excised": 2, "closed": 1, None: 0}
        for day, part, state in everything:
            if order[state] >= order[days[day].get(part)]:
                days[day][part] = state
        for day in sorted(days):
            today = days[day]
            last.update({part: state for part, state in today.items() if state})
            last = {part: state for part, state in last.items() if not (parts[part].merged and parts[part].merged <= day)}
            if "open" in today.values():
                state = "open"
            elif "open" in last.values():
                state = None  # another part was open when last seen
            elif self.surgical and not any(state for _, state in self.days) and not any(today.values()):
                state = "open"  # the wound of an operation, first told without its state
            else:
                state = next((s for s in ("excised", "closed") if s in today.values()), None)
            self.days.append((day, state))

    def origin(self, opened):
        return next((origin for day, _, origin in self.rows if day >= opened and origin), "N")


def lesions_of(person, known_to):
    """Lesions by label and foot, from rows up to a day. An ulcer that is open does not change feet; a part belongs to what
    it came from, and a lesion that merged to the one it merged into."""
    found, belongs = {}, {}
    for label, rows in person.wounds.items():
        current = None
        for day, state, side, site, origin, parent, survivor in sorted(rows, key=lambda row: row[0]):
            if day > known_to:
                break
            slipped = current and current.open and side != current.side and site and site == current.site
            if not (slipped or (current and side == current.side)):
                current = found.setdefault((label, side), Lesion(label, side))
                current.site, current.open = site, False
            current.rows.append((day, state, origin))
            current.surgical |= origin == "S"
            if survivor:
                current.merged = current.merged or day
            if parent or survivor:
                belongs.setdefault((label, current.side), parent or survivor)
            if state:
                current.open = state == "open"
    roots = []
    for key, lesion in found.items():
        target = None if lesion.surgical else found.get((belongs.get(key), lesion.side))
        (target.parts if target else roots).append(lesion)
    for lesion in roots:
        for part in lesion.parts:
            lesion.parts.extend(p for p in part.parts if p not in lesion.parts)
        lesion.settle()
    return roots


def episodes_of(lesion):
    """Open and closed days: a reopening up to 28 days after the first closed day cancels that closure."""
    episodes = []
    for day, state in lesion.days:
        if state == "open":
            if not episodes or (episodes[-1]["closed"] and day - episodes[-1]["closed"] > 28):
                episodes.append({"opened": day, "last_open": day, "closed": None, "known": day, "excised": None})
            episodes[-1].update(closed=None, last_open=day)
        if episodes:
            episodes[-1]["known"] = day if state else episodes[-1]["known"]
            for end in ("closed", "excised"):
                if state == end and not episodes[-1][end]:
                    episodes[-1][end] = day
    return episodes


def removals(person, lesion):
    """Major amputations of the leg; minor ones that name the lesion, or name none and after which it was not seen open."""
    for at, kind, side, label in person.events:
        named = label in [part.label for part in [lesion] + lesion.parts] or (label in MISSING and not lesion.surgical and not any(
            state == "open" and 0 < day - at <= 28 for day, state in lesion.days))
        if side == lesion.side and (kind == "AMAJ" or (kind == "AMIN" and named)):
            yield at, kind


def openings(person):
    return sorted({day for rows in person.wounds.values() for day, state, *_ in rows if state == "open"})


def incidence(rows, horizon, cause, entry=None):
    """Aalen-Johansen at the horizon; the entry day is outside the risk set."""
    free, share = 1.0, 0.0
    for time in sorted({row[0] for row in rows if row[0] <= horizon}):
        risk = sum(row[0] >= time and (entry is None or entry < time) for row in rows)
        if risk:
            share += free * sum(row == (time, cause) for row in rows) / risk
            free *= 1 - sum(row[0] == time and row[1] != "censored" for row in rows) / risk
    return share


def healing(people, start, cut_off, horizon):
    cohorts = collections.defaultdict(list)
    for person in people.values():
        for index in openings(person):
            known_to = index + horizon + 28
            for lesion in lesions_of(person, known_to):
                episode = next((e for e in episodes_of(lesion) if e["opened"] == index), None)
                if not episode or lesion.surgical or lesion.origin(index) != "N" or index - start <= 90:
                    continue
                ends = [(at, 0, "lost") for at, kind in removals(person, lesion) if kind == "AMAJ"]
                ends += [(at, 1, "lost") for at, kind in removals(person, lesion) if kind == "AMIN"]
                ends += [(at, order, cause) for at, order, cause in
                         [(episode["excised"], 1, "lost"), (episode["closed"], 2, "healed")] if at]
                if person.death and person.death - episode["known"] <= 90:
                    ends.append((person.death, 3, "died"))
                ends = [end for end in ends if index <= end[0] <= known_to] or [(episode["known"], 9, "censored")]
                at, _, cause = min(ends)
                cohorts[quarter_of(index)].append((at - index, cause))
    return {quarter: (sum(t <= horizon and cause == "healed" for t, cause in rows), len(rows), incidence(rows, horizon, "healed"))
            for quarter, rows in cohorts.items()}


def limbs(people, start, cut_off, measured):
    """From the first ulcer of a leg; everything is known up to the cut-off. `measured` is lost, gone (lost or died) or minor."""
    cohorts = collections.defaultdict(list)
    for person in people.values():
        lesions, first = lesions_of(person, cut_off), {}
        for lesion in lesions:
            if not lesion.surgical and episodes_of(lesion):
                opened = episodes_of(lesion)[0]["opened"]
                first[lesion.side] = min(first.get(lesion.side, (10**9, "")), (opened, lesion.origin(opened)))
        for side, (index, origin) in first.items():
            major, minor = ([at for at, kind, where, _ in person.events if kind == which and where == side] for which in ("AMAJ", "AMIN"))
            if index - start <= 90 or origin == "T" or side in person.legs_lost_before or any(at < index for at in major):
                continue
            known_to = min(cut_off, index + 365 + 28)
            ends = [(at, 0, "lost") for at in major] + ([(person.death, 2, "died")] if person.death else [])
            if measured == "minor":
                ends += [(at, 1, "minor") for at in minor]
            if measured == "gone":
                ends = [(at, order, "gone") for at, order, _ in ends]
            at, _, cause = min([end for end in ends if index <= end[0] <= known_to] + [(known_to, 9, "censored")])
            cohorts[quarter_of(index)].append((at - index, cause))
    found = {}
    for quarter, rows in cohorts.items():
        count, share = sum(t <= 365 and c == measured for t, c in rows), incidence(rows, 365, measured)
        found[quarter] = (count, len(rows), share) if measured == "minor" else (len(rows) - count, len(rows), 1 - share)
    return found


def shares(cohorts):
    known = {quarter: [answer for answer in rows if answer != "unknown"] for quarter, rows in cohorts.items()}
    return {quarter: (rows.count("yes"), len(rows), rows.count("yes") / max(1, len(rows))) for quarter, rows in known.items()}


def area_halved(people, start, cut_off):
    """At the reading nearest day 28 within 21 to 35, by the method of the first day; the later of two as near."""
    cohorts = collections.defaultdict(list)
    for person in people.values():
        for index in openings(person):
            for lesion in lesions_of(person, index + 35 + 28):
                episode = next((e for e in episodes_of(lesion) if e["opened"] == index), None)
                if not episode or lesion.surgical or lesion.origin(index) != "N" or index - start <= 90:
                    continue
                first = [person.sizes[key] for key in [(part.label, index) for part in [lesion] + lesion.parts] if key in person.sizes]
                by_lengths = any(length is not None and width is not None for length, width, _ in first)

                def area(day):
                    parts = [part for part in [lesion] + lesion.parts if (day, "closed") not in [row[:2] for row in part.rows]]
                    found = [person.sizes[(part.label, day)] for part in parts if (part.label, day) in person.sizes]
                    made = [(l and w and math.pi / 4 * l * w / 100) if by_lengths else traced for l, w, traced in found]
                    return None if None in made or not made else sum(made)

                states = dict(lesion.days)
                read = [(day, 0.0) for day in states if episode["closed"] and states[day] == "closed" and day >= episode["closed"]]
                read += [(day, area(day)) for day in states if states[day] != "closed" and area(day)]
                read = [(day, size) for day, size in read if 21 <= day - index <= 35]
                if not (area(index) or 0) >= 0.2:
                    continue
                if not read and episode["closed"] and episode["closed"] - index < 21:
                    read = [(episode["closed"], 0.0)]
                ends = [at for at, _ in removals(person, lesion)] + [d for d in (episode["excised"], person.death) if d]
                nearest = min(read, key=lambda pair: (abs(pair[0] - index - 28), -pair[0]), default=None)
                if nearest and not any(index <= at < nearest[0] for at in ends):
                    answer = "yes" if nearest[1] <= area(index) / 2 + 1e-12 else "no"
                else:
                    answer = "no" if any(index <= at <= index + 35 for at in ends) else "unknown"
                cohorts[quarter_of(index)].append(answer)
    return shares(cohorts)


def system_delay(people, start, cut_off):
    """From the first contact with anybody to the first ulcer here."""
    cohorts = collections.defaultdict(list)
    for person in people.values():
        opened = [(e["opened"], l) for l in lesions_of(person, cut_off) if not l.surgical for e in episodes_of(l)]
        index = min((day for day, _ in opened), default=None)
        if index is None or index - start <= 90 or any(l.origin(index) != "N" for day, l in opened if day == index):
            continue
        waited = None if person.first_contact is None else index - person.first_contact
        cohorts[quarter_of(index)].append("unknown" if waited is None or waited < 0 else "yes" if waited <= 14 else "no")
    return shares(cohorts)


class Wound:
    """A wound as known on a day: its lesion, when it began, was last seen open, closed, and the days it was looked at."""

    def __init__(self, lesion, began, last_open, closed, until, looks):
        self.lesion, self.began, self.last_open, self.closed, self.until = lesion, began, last_open, closed, until
        self.looks = looks

    def counts_as_open(self, day):
        """Up to its closure, unless it had not been seen for more than 90 days."""
        seen = max((look for look in self.looks if look <= day), default=self.began)
        return self.began <= day <= self.until and day - seen <= 90


def wounds_of(person, known_to):
    """Every wound. An amputation is no closure: the wound it leaves closes as a lesion of its own, begun at the operation, or,
    where none is recorded, when a clinician next looks at that foot (of a lost leg: at the person)."""
    lesions, wounds, left = lesions_of(person, known_to), [], {}
    for lesion in lesions:
        for episode in episodes_of(lesion):
            ends = [(at, kind) for at, kind in removals(person, lesion) if episode["opened"] <= at <= known_to]
            ends += [(episode["excised"], "AMIN")] if episode["excised"] else []
            looks = [day for day, state in lesion.days if state and day >= episode["opened"]]
            end = min(ends, default=None)
            if end and (episode["closed"] is None or end[0] <= episode["closed"]):
                after = [o for o in lesions if o.surgical and o.side == lesion.side and 0 <= o.days[0][0] - end[0] <= 28]
                left.update({id(o): end[0] for o in after})
                looked = person.examined if end[1] == "AMAJ" else person.foot_examined[lesion.side]
                closed = end[0] if after else min((day for day in looked if end[0] < day <= known_to), default=None)
                wounds.append(Wound(lesion, episode["opened"], min(episode["last_open"], end[0]), closed, closed or 10**9, looks + [end[0]]))
            else:
                wounds.append(Wound(lesion, episode["opened"], episode["last_open"], episode["closed"], episode["closed"] or 10**9, looks))
    for wound in wounds:
        if wound.began == episodes_of(wound.lesion)[0]["opened"]:  # not where a stump opens again
            wound.began = min(wound.began, left.get(id(wound.lesion), wound.began))
    return sorted(wounds, key=lambda wound: wound.began)


def spells_of(wounds):
    """Wounds that were open one after the other without a day between, as far as then known."""
    spells = []
    for wound in wounds:
        spell = next((s for s in spells if any(w.counts_as_open(wound.began) or w.began == wound.began for w in s)), None)
        (spell.append(wound) if spell else spells.append([wound]))
    return spells


def ulcer_free(people, start, cut_off):
    """A person begins with the first ulcer of a spell in which some wound was open throughout, as far as then known."""
    cohorts = collections.defaultdict(list)
    for person in people.values():
        for index in openings(person):
            wounds = wounds_of(person, index + 98 + 28)
            firsts = [min((w.began for w in spell if not w.lesion.surgical), default=None) for spell in spells_of(wounds)]
            began = [w.lesion for w in wounds if w.began == index and not w.lesion.surgical]
            if index in firsts and index - start > 90 and all(lesion.origin(index) == "N" for lesion in began):
                cohorts[quarter_of(index)].append(status(person, wounds, index))
    return shares(cohorts)


def status(person, wounds, index):
    """At the examination nearest day 84 within 70 to 98 that tells of every wound; the later of two as near."""

    def all_closed(day):
        still = [wound for wound in wounds if wound.began <= day and (wound.closed is None or wound.closed > day)]
        return True if not still else False if any(wound.last_open >= day for wound in still) else None

    if person.death and person.death - index <= 84:
        return "no"
    window = [day for day in person.kept if 70 <= day - index <= 98]
    for day in sorted(window, key=lambda d: (abs(d - index - 84), -d)):
        answer = all_closed(day)
        if answer is not None:
            return "yes" if answer else "no"
    if person.death and person.death - index <= 98:
        return "no"
    return "yes" if not window and all_closed(index + 70) else "unknown"


def recurrence(people, start, cut_off):
    """From the day the last wound was seen closed; into the risk set on day 28; a new ulcer, or death first."""
    cohorts = collections.defaultdict(list)
    for person in people.values():
        counted = set()
        for closed in sorted({w.closed for w in wounds_of(person, cut_off) if w.closed} | person.examined):
            wounds = wounds_of(person, closed + 365 + 28)
            begun = [w for w in wounds if w.began <= closed]
            ended = [s for s in spells_of(begun) if not all(w.lesion.surgical for w in s) and max(w.closed or 10**9 for w in s) == closed]
            if not ended or any(w.closed is None or w.closed > closed for w in begun) or quarter_of(closed) in counted:
                continue
            known_to = closed + 365 + 28
            new = min((w.began for w in wounds if w.began > closed and not w.lesion.surgical), default=10**9)
            last = max((day for day in person.examined if day <= known_to), default=0)
            death = person.death if person.death and person.death <= known_to and person.death - last <= 90 else 10**9
            legs = [min((at for at, kind, side, _ in person.events if kind == "AMAJ" and side == leg), default=0 if leg in person.legs_lost_before else 10**9) for leg in "LR"]
            ends = [(new, 2, "new"), (death, 0, "other"), (max(legs), 1, "other")]
            at, _, cause = min([end for end in ends if end[0] <= known_to] or [(last, 9, "censored")])
            if at - closed > 28:
                counted.add(quarter_of(closed))
                cohorts[quarter_of(closed)].append((at - closed, cause))
    return {quarter: (sum(t <= 365 and c == "new" for t, c in rows), len(rows), incidence(rows, 365, "new", 28))
            for quarter, rows in cohorts.items()}


def reported(report, measure):
    for family in report["families"]:
        for found in family["measures"]:
            if found["id"] == measure:
                return {r["period"]: (r["numerator"]["shown"], r["denominator"]["shown"], r["value"]["estimate"])
                        for r in found["results"] if r["value"]["kind"] == "known" and " to " not in r["period"]}
    return {}


def main():
    parse = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parse.add_argument("export")
    parse.add_argument("report")
    parse.add_argument("--data-start", default="2023-01-01")
    parse.add_argument("--cut-off", default="2025-12-31")
    chosen = parse.parse_args()
    start, cut_off = (datetime.date.fromisoformat(text).toordinal() for text in (chosen.data_start, chosen.cut_off))
    people, report = people_of(chosen.export, cut_off), json.load(open(chosen.report))
    counts = {
        "healed-within-12-weeks": healing(people, start, cut_off, 84),
        "healed-within-24-weeks": healing(people, start, cut_off, 168),
        "ulcer-free-at-12-weeks": ulcer_free(people, start, cut_off),
        "recurrence-within-12-months": recurrence(people, start, cut_off),
        "limbs-kept-at-12-months": limbs(people, start, cut_off, "lost"),
        "amputation-free-survival-at-12-months": limbs(people, start, cut_off, "gone"),
        "minor-amputation-within-12-months": limbs(people, start, cut_off, "minor"),
        "area-halved-at-4-weeks": area_halved(people, start, cut_off),
        "system-delay-within-14-days": system_delay(people, start, cut_off),
    }
    differ = compared = 0
    for measure, again in counts.items():
        for quarter, (numerator, denominator, estimate) in sorted(reported(report, measure).items()):
            mine = again.get(quarter, (0, 0, 0.0))
            same = mine[:2] == (numerator, denominator) and abs(mine[2] - estimate) < 5e-10
            compared, differ = compared + 1, differ + (not same)
            print(f"{'same  ' if same else 'DIFFERS'} {measure} {quarter}: report {numerator}/{denominator} {estimate:.6f}, again {mine[0]}/{mine[1]} {mine[2]:.6f}")
    print(f"{compared} figures compared, {differ} differ")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
