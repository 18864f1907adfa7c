"""The samples, and the whole job on one of them."""

from measure.demo.samples import read_register, samples_folder
from measure.demo.specimen import build_specimen

__all__ = ["build_specimen", "read_register", "samples_folder"]
