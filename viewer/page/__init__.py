"""The page: a whole result in one file that opens with a double click, with nothing behind it.

The law: one file, no network, no script that is not ours. What a program or a job file says is text and
stays text. The page lays out what the Result and the Scene hold, verdict first; it never calls anything safe.
"""

from .document import page_of as page_of
