"""Calibration of one measuring chain: table of gap and volts, calibrator run, current loop."""
