"""What the runs mean: outcomes, statistics of each group of coupons, checks, and the data of figures."""

import math

import analysis
from analysis import CRITERION_KINDS, METHODS, QUANTITIES, ROLES, citation
from labrecords.actions.evidence.stored import title_of

PLOTTED = ("mean", "median")
FURTHER = ("_not_moved_share", "_censored_drops", "_censored_coupons")


def facts(stored, judgement) -> dict:
    return {
        "judgement": analysis.as_data(judgement),
        "groups": [_group(stored, group) | {"figures": _dots(stored, judgement, group)} for group in stored.groups],
        "checks": _checks(stored),
        "courses": list(_courses(stored)),
    }


def explanations(stored, judgement) -> dict:
    """How each outcome came about, step by step, and each formula behind the other results once."""
    outcomes = analysis.explain_judgement(stored.rules, stored.records, judgement) if stored.rules else ()
    told = [item for group in stored.groups for item in group.statistics]
    for result in stored.results.values():
        told += [*result.statistics, *result.checks]
    used = [key for item in told for key in item.formulas]
    return analysis.as_data({"outcomes": outcomes, "formulas": analysis.formula_steps(used)})


def _group(stored, group):
    keys = _told_by_coupon(group)
    return {
        "key": group.key,
        "title": title_of(group),
        "role": group.role,
        "runs": list(group.runs),
        "n_coupons": len(group.coupons),
        "n_readings": group.n_readings,
        "n_excluded": group.n_excluded,
        "n_lost": group.n_lost,
        "rows": [_row(group, key) for key in keys],
        "further": [_further(item) for item in group.statistics if item.key.endswith(FURTHER)],
        "columns": [_column(key) for key in keys],
        "coupons": [_coupon_row(stored, group, code, keys) for code in group.coupons],
    }


def _told_by_coupon(group):
    """Statistics that stand for a coupon: those its method declares, and those made of them after a dose."""
    method = METHODS[group.method]
    read = {f"{kind.quantity}_{name}" for kind in method.readings for name in (*PLOTTED, "not_moved")}
    declared = [key for key in method.coupon_statistics if key in group.coupon_values]
    return declared + [
        key for key in group.coupon_values if key not in read and key.endswith("_mean") and key not in declared
    ]


def _column(key):
    quantity, _, name = key.rpartition("_")
    known = QUANTITIES[quantity]
    return {
        "label": f"{known.symbol}{f' [{known.unit}]' if known.unit else ''}, {name}",
        "decimals": known.decimals,
    }


def _row(group, key):
    """One statistic over coupons with its interval and both standard deviations."""
    data = analysis.as_data(group.statistic(key))
    spread = {name: group.statistic(f"{key.rpartition('_')[0]}_{name}_sd") for name in ("between", "within")}
    sds = {name: analysis.as_data(item.value) if item else None for name, item in spread.items()}
    notes = [data["note"], *(f"standard deviations: {item.note}" for item in spread.values() if item and item.note)]
    data["note"] = "; ".join(dict.fromkeys(note for note in notes if note))
    return data | sds | {"source": citation(data["source"]) if data["source"] else ""}


def _further(item):
    data = analysis.as_data(item)
    return data | {"source": citation(data["source"]) if data["source"] else ""}


def _coupon_row(stored, group, code, keys):
    own = [next((item for item in group.coupon_values[key] if item.coupon == code), None) for key in keys]
    known = [item for item in own if item]
    return {
        "coupon": stored.marks[code],
        "n_drops": max((item.n_drops for item in known), default=0),
        "n_not_moved": max((item.n_not_moved for item in known), default=0),
        "values": [analysis.as_data(item.value) if item else None for item in own],
    }


def _checks(stored):
    """One row a check: how often each outcome, and each sentence on what does not hold or cannot be told."""
    found = {}
    for code, result in stored.results.items():
        for check in result.checks:
            row = found.setdefault(check.title, {"title": check.title, "sources": {}, "told": {}, "outcomes": {}})
            row["sources"][check.source] = None  # one check may rest on another source for another method
            row["outcomes"][check.outcome] = row["outcomes"].get(check.outcome, 0) + 1
            if check.outcome != analysis.HOLDS:
                row["told"].setdefault((check.outcome, check.why), []).append(code)
    return [_check(row) for row in found.values()]


def _check(row):
    told = sorted(row["told"].items(), key=lambda item: item[0][0], reverse=True)
    return {
        "title": row["title"],
        "source": "; ".join(citation(key) if key in analysis.SOURCES else key for key in row["sources"]),
        "holds": row["outcomes"].get(analysis.HOLDS, 0),
        "does_not_hold": row["outcomes"].get(analysis.DOES_NOT_HOLD, 0),
        "cannot_tell": row["outcomes"].get(analysis.CANNOT_TELL, 0),
        "told": [{"outcome": outcome, "why": why, "runs": runs} for (outcome, why), runs in told],
    }


def _dots(stored, judgement, group):
    """A figure for what stands for the coupon in this group, and for whatever else a criterion judges."""
    outcomes = zip(stored.rules, judgement.outcomes, strict=True)
    judged = [(_statistic(row), item) for row, item in outcomes if _is_of(item, group)]
    usual = METHODS[group.method].coupon_statistics[0]
    same = {key for key, _ in judged if key.rpartition("_")[0] == usual.rpartition("_")[0] and _is_plotted(key)}
    wanted = dict.fromkeys([*([] if same else [usual]), *(key for key, _ in judged)])
    return [
        _figure(stored, group, key, next((item for name, item in judged if name == key), None))
        for key in wanted
        if key in group.coupon_values and _is_plotted(key)
    ]


def _is_plotted(key):
    return key.rpartition("_")[2] in PLOTTED


def _statistic(row):
    kind = CRITERION_KINDS[row.kind]
    defaults = {parameter.key: parameter.default for parameter in kind.parameters}
    return kind.statistic.format(**{"quantity": kind.quantity or row.quantity} | defaults | row.parameters)


def _is_of(outcome, group):
    return bool(outcome.runs) and set(group.runs) <= set(outcome.runs)


def _figure(stored, group, key, outcome):
    quantity = key.rpartition("_")[0]
    statistic = group.statistic(key)
    told = analysis.as_data(statistic) if statistic else {"value": None, "low": None, "high": None}
    judged = {"limit": outcome.limit, "side": outcome.side} if outcome else {"limit": None, "side": None}
    label = f"{outcome.label}: " if outcome else ""
    return {
        "title": f"{label}{QUANTITIES[quantity].title}",
        "quantity": quantity,
        "coupons": [_dot_row(stored, group, quantity, item) for item in group.coupon_values[key]],
        "mean": told["value"],
        "low": told["low"],
        "high": told["high"],
        **judged,
    }


def _dot_row(stored, group, quantity, item):
    results = [stored.results[code] for code in group.runs if stored.results[code].coupon == item.coupon]
    values = [
        [pair[quantity], "measured", pair["excluded"]]
        for result in results
        for pair in result.pairs
        if quantity in pair
    ]
    if not values:
        rows = [
            reading
            for record in stored.records
            if record.code in group.runs and record.coupon == item.coupon
            for reading in record.readings
        ]
        values = [[row.value, row.qualifier, row.excluded] for row in rows if row.quantity == quantity]
    if not values and item.value is not None and math.isfinite(item.value):
        values = [[item.value, "measured", False]]
    return {
        "name": stored.marks[item.coupon],
        "role": item.role,
        "values": values,
        "centre": analysis.as_data(item.value),
    }


def _courses(stored):
    """A figure for each quantity that the same coupons were read for at more than one dose."""
    series = {}
    for group in stored.groups:
        key = METHODS[group.method].coupon_statistics[0]
        if key in group.coupon_values:
            series.setdefault((group.role, group.method, group.liquid, group.drop_volume_ul, key), []).append(group)
    for (*_, key), groups in series.items():
        for kind, exposure in dict.fromkeys((group.dose_kind, group.exposure) for group in groups if group.dose):
            same = [
                group for group in groups if not group.dose or (group.dose_kind, group.exposure) == (kind, exposure)
            ]
            if len({group.dose for group in same}) > 1:
                yield _course(stored, same, key, f"{exposure or 'exposure'} [{kind}]")


def _course(stored, groups, key, dose_label):
    quantity = key.rpartition("_")[0]
    points, roles = {}, {}
    for group in sorted(groups, key=lambda item: item.dose):
        for item in group.coupon_values[key]:
            points.setdefault(item.coupon, []).append([group.dose, analysis.as_data(item.value)])
            roles[item.coupon] = item.role
    return {
        "title": f"{QUANTITIES[quantity].title} over the dose, {ROLES[groups[0].role]} coupons",
        "quantity": quantity,
        "dose_label": dose_label,
        "courses": [{"name": stored.marks[code], "role": roles[code], "points": line} for code, line in points.items()],
    }
