"""The application: measuring a specimen on its photographs, judging it and writing it up."""

__version__ = "0.1.0"
