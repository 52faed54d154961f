"""Frozen data of a survey: machine, devices, mounts, stations, set-ups, tasks."""
