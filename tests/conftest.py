"""Settings that hold for every test."""

from hypothesis import settings

# A deadline would be a wall-clock assertion: it fails on a busy machine and proves nothing.
settings.register_profile("nextprobe", deadline=None, print_blob=True)
settings.load_profile("nextprobe")
