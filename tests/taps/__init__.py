"""Tests of how taps are gauged."""
