"""The samples, and the whole job on one of them."""

from measure.demo.samples import (
    SamplePhoto,
    Samples,
    SampleSpan,
    SampleSpecimen,
    read_samples,
    samples_folder,
)
from measure.demo.specimen import build_specimen

__all__ = [
    "SamplePhoto",
    "SampleSpan",
    "SampleSpecimen",
    "Samples",
    "build_specimen",
    "read_samples",
    "samples_folder",
]
