"""Tests of what is learned from a run."""
