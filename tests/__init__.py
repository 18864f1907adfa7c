"""Tests of cardspan."""
