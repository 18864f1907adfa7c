"""Benchmarks: run as modules, not collected by pytest."""
