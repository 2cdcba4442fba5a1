#!/usr/bin/env python3
"""Makes trend.csv, which the tests of src/calc/trend.rs compare with: straight lines and Student's t from SciPy, a general
statistics library that the program does not use.

    python3 -m venv V && V/bin/pip install scipy==1.17.1 && V/bin/python tests/data/trend.py > tests/data/trend.csv

Rows:
  t, freedom, value                t.ppf(0.975, freedom)
  line, NAME, slope, its standard error, intercept, its standard error   linregress
  point, NAME, x, y                the series, as the line above it has it
"""
import sys
import numpy
import scipy
from scipy.stats import linregress, t

print(f"# Python {sys.version.split()[0]}, numpy {numpy.__version__}, scipy {scipy.__version__}; made by trend.py")
for freedom in (2, 2.5, 3, 4, 5.75, 8, 10, 20, 59, 1000):
    print(f"t,{freedom},{float(t.ppf(0.975, freedom))!r}")
made = numpy.random.default_rng(20261125)
for name, count, slope, noise in (("short", 10, 0.02, 0.1), ("minute", 61, 0.0133, 0.05), ("flat", 61, 0.0, 1.0), ("falling", 30, -3e-4, 0.002)):
    x = numpy.arange(count) + numpy.round(made.uniform(0, 0.2, count), 3)
    y = numpy.round(36.5 + slope * x + made.normal(0, noise, count), 6)
    line = linregress(x, y)
    print(f"line,{name},{line.slope!r},{line.stderr!r},{line.intercept!r},{line.intercept_stderr!r}".replace("np.float64(", "").replace(")", ""))
    for one, other in zip(x, y):
        print(f"point,{name},{float(one)!r},{float(other)!r}")
