"""parser: what is written. Program text to Motion, job file to Job."""
