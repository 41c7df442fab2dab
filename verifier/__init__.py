"""Shop-floor verification of CNC program revisions."""

__version__ = "0.1.0"
