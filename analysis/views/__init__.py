"""Answers to what a page or a command asks: a frozen request in, a frozen result out."""
