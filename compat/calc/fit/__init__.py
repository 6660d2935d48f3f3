"""Berth fit in numbers: each check over arrays of ships and berths, one pair being arrays of length one."""
