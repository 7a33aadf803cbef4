"""Tests of what is heard."""
