"""Simulated photos with known truth."""
