"""Limits and their logic, circuit faults, current outputs, severity zones."""
