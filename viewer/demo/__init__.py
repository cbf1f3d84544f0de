"""The demo: a job of our own, with three faults and without, as files that a user could have written."""
