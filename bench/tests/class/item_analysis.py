#!/usr/bin/env python3
"""Makes item_analysis.json: figures of item analysis for random classes, from numpy and scipy.

    python item_analysis.py > item_analysis.json

Correlations come from scipy.stats.pointbiserialr where an item is all or nothing, else from scipy.stats.pearsonr; variances
from numpy.var. The upper-lower index is the mean over all ways to choose among students with equal totals at the edges of the
groups, each tried. KR-20 is given where all items are all or nothing with one point each.
"""

import itertools
import json
import warnings
from fractions import Fraction

import numpy
import scipy
from scipy import stats

warnings.simplefilter("ignore")
RANDOM = numpy.random.default_rng(1_939)


def number(value):
    value = float(value)
    return value if numpy.isfinite(value) else None


def correlation(x, y, dichotomous):
    if numpy.ptp(x) == 0 or numpy.ptp(y) == 0:
        return None
    return number((stats.pointbiserialr(x > 0, y) if dichotomous else stats.pearsonr(x, y)).statistic)


def group_means(scores, totals, size, sign):
    """Mean score in the group of the best (sign 1) or weakest (-1), over all choices among ties."""
    ranked = sorted(range(len(totals)), key=lambda student: -sign * totals[student])
    edge = totals[ranked[size - 1]]
    inside = [student for student in ranked if sign * totals[student] > sign * edge]
    tied = [student for student in ranked if totals[student] == edge]
    choices = list(itertools.combinations(tied, size - len(inside)))
    all_sums = sum(Fraction(int(sum(scores[s] for s in inside + list(choice)))) for choice in choices)
    return all_sums / len(choices) / size


def analysed(worths, scores):
    scores = numpy.array(scores)
    totals = scores.sum(axis=1)
    students, items = scores.shape
    size = int(Fraction(27 * students, 100) + Fraction(1, 2))
    case = {"worths": worths, "scores": scores.tolist(), "items": []}
    for index, worth in enumerate(worths):
        item = scores[:, index]
        dichotomous = bool(numpy.isin(item, (0, worth)).all())
        upper_lower = None
        if students >= 10 and numpy.ptp(totals) > 0:
            upper, lower = (group_means(item, totals, size, sign) for sign in (1, -1))
            upper_lower = float((upper - lower) / worth)
        case["items"].append({
            "difficulty": number(item.mean() / worth),
            "all_or_nothing": dichotomous,
            "with_total": correlation(item, totals, dichotomous),
            "with_rest": correlation(item, totals - item, dichotomous),
            "upper_lower": upper_lower,
        })
    variance = totals.var(ddof=1)
    alpha = None
    if items > 1 and students > 1 and numpy.ptp(totals) > 0:
        alpha = number(items / (items - 1) * (1 - scores.var(axis=0, ddof=1).sum() / variance))
    case["alpha"] = alpha
    case["error_of_measurement"] = (
        None if alpha is None or alpha < 0 else number(numpy.sqrt(variance) * numpy.sqrt(1 - alpha) / 100))
    case["kr20"] = None
    if alpha is not None and all(worth == 100 for worth in worths) and numpy.isin(scores, (0, 100)).all():
        p = (scores > 0).mean(axis=0)
        of_totals = (scores > 0).sum(axis=1).var(ddof=0)
        case["kr20"] = number(items / (items - 1) * (1 - (p * (1 - p)).sum() / of_totals))
    return case


def random_class(students, worths, partly):
    ability = RANDOM.normal(size=students)
    columns = []
    for worth in worths:
        hardness, slope = RANDOM.normal(), RANDOM.uniform(-0.3, 2)
        chance = 1 / (1 + numpy.exp(-(slope * ability - hardness)))
        if partly:
            columns.append(numpy.round(RANDOM.binomial(4, chance) / 4 * worth).astype(int))
        else:
            columns.append(numpy.where(RANDOM.uniform(size=students) < chance, worth, 0))
    return analysed(worths, numpy.stack(columns, axis=1).tolist())


cases = [
    random_class(students, worths, partly)
    for students, worths, partly in [
        (12, [100] * 4, False),
        (30, [100] * 7, False),
        (24, [100, 200, 50, 400], False),
        (40, [100, 200, 300], True),
        (17, [25, 1000, 150, 75, 300], True),
        (9, [100] * 5, False),
        (2, [100, 100, 200], True),
        (20, [400], True),
    ]
]
print(json.dumps({"numpy": numpy.__version__, "scipy": scipy.__version__, "cases": cases}, separators=(",", ":")))
