"""The use cases, the same for every face: one module each.

The only room with a clock, the user's name and the user's files.
"""

from __future__ import annotations

from lastwet.service.batch import read_photos, usual_jobs
from lastwet.service.burst import read_burst
from lastwet.service.demo import Sample, none_read, read_sample, report_samples, samples
from lastwet.service.files import make_folder, save_picture, write_text
from lastwet.service.log import Kept, keep, log_result, open_log, user_name
from lastwet.service.photos import Fetch, Reader, expand, fetch_file, film, load_clean, read_photo

__all__ = [
    "Fetch",
    "Kept",
    "Reader",
    "Sample",
    "expand",
    "fetch_file",
    "film",
    "keep",
    "load_clean",
    "log_result",
    "make_folder",
    "none_read",
    "open_log",
    "read_burst",
    "read_photo",
    "read_photos",
    "read_sample",
    "report_samples",
    "samples",
    "save_picture",
    "user_name",
    "usual_jobs",
    "write_text",
]
