"""True of any signal: windows, spectra, sine fits, bounds, envelopes."""
