"""Statistics of answers: pure functions from the table of counts (or answer columns) to frozen results.

    estimates            a value with its n, interval and convention; the conventions in words; intervals
    tables, groups       the counts in exact whole sums; score groups whose ties are shared
    classical            facility, discrimination, responses by score thirds, reliability
    rasch, fit, twopl    item response models by marginal maximum likelihood
    dif                  Mantel-Haenszel
    families, forms      siblings of an item model; several forms together
    withhold             what small numbers do not allow to say

Sums are whole numbers up to the last division, so that no order of rows and no counting engine changes a digit.
"""
