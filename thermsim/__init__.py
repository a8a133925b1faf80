"""thermsim: transient thermal trade studies of electronic enclosures."""
