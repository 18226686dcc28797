"""Pressed sections as 3D solids, in CalculiX, a general-purpose finite element program (GPL).

It is run beside the project's own sections by ``python -m benchmarks.solid`` where it is installed
(``ccx``, in Debian the package calculix-ccx). Results are kept in `results.json`, so that the table
of benchmarks and the tests read them without it.
"""
