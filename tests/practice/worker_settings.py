"""The site's settings with one more kind of job, for tests of the real worker."""

from importlib import import_module

_site = import_module("practice.settings")
globals().update({name: getattr(_site, name) for name in dir(_site) if name.isupper()})

JOB_KINDS = _site.JOB_KINDS | {"wait_for_leave": "tests.practice.waiting_job.wait_for_leave"}
