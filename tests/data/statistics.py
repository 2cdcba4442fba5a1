#!/usr/bin/env python3
"""Makes statistics.csv, which the tests of src/calc compare with: quantiles and tails from SciPy,
a general statistics library that the program does not use.

    python3 -m venv V && V/bin/pip install scipy==1.17.1 && V/bin/python tests/data/statistics.py > tests/data/statistics.csv

Rows: what, first, second, value
  upper     k, CL    chi2.ppf(CL, 2(k+1)) / 2     most errors expected where k were seen
  lower     k, CL    chi2.ppf(1-CL, 2k) / 2       least (by isf, which does not lose figures of 1-CL)
  poisson   k, mean  poisson.sf(k-1, mean)        chance of k errors or more
  528, 544  t, p     binom.sf(t, n, 1-(1-p)^10)   more than t wrong symbols of n at bit-error ratio p
  2112      t, p     binom.sf(t, 2112, p)         more than t wrong bits of 2112
"""
import sys
import numpy
import scipy
from scipy.stats import binom, chi2, poisson

print(f"# Python {sys.version.split()[0]}, numpy {numpy.__version__}, scipy {scipy.__version__}; made by statistics.py")
some = [*range(21), 25, 30, 40, 50, 75, 100, 150, 200, 300, 400, 500, 600, 700, 800, 900, 999, 1000]
many = [10**4, 99_999, 100_000, 100_001, 10**6, 10**9, 10**12, 10**15, 10**18]
usual, extreme = (0.5, 0.8, 0.9, 0.95, 0.99, 0.999), (0.999999, 0.999999999)
for k in some + many:
    # Far out SciPy's own inverse is off (chi2.isf(0.999999, 2e9) by 7 parts in a million), so the extreme
    # levels stop at 1000 errors; every value is held against SciPy's own cumulative function.
    for level in usual + (extreme if k <= 1000 else ()):
        most = float(chi2.ppf(level, 2 * (k + 1)))
        assert abs(chi2.sf(most, 2 * (k + 1)) / (1 - level) - 1) < 1e-6, (k, level)
        print(f"upper,{k},{level},{most / 2!r}")
        if k:
            least = float(chi2.isf(level, 2 * k))
            assert abs(chi2.cdf(least, 2 * k) / (1 - level) - 1) < 1e-6, (k, level)
            print(f"lower,{k},{level},{least / 2!r}")
for mean in (1e-4, 0.01, 0.06, 1.0, 35.5, 700.0):
    for k in (1, 2, 3, 5, 46, 750):
        print(f"poisson,{k},{mean},{float(poisson.sf(k - 1, mean))!r}")
for n, t in ((528, 7), (544, 15)):
    for p in (1e-8, 1e-6, 1e-5, 5e-5, 1e-4, 2.4e-4, 5e-4, 1e-3, 1e-2, 0.1, 0.5):
        # -expm1(n log1p(-p)) is 1-(1-p)^n without the loss of figures.
        print(f"{n},{t},{p},{float(binom.sf(t, n, -numpy.expm1(10 * numpy.log1p(-p))))!r}")
for p in (1e-12, 1e-10, 1e-8, 1e-6, 1e-4, 1e-2):
    print(f"2112,1,{p},{float(binom.sf(1, 2112, p))!r}")
