"""Bench mode: a flow test taken on a tablet, chosen by tapping."""
