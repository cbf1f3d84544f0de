"""sim: what happens. Motion and Job to Result."""
