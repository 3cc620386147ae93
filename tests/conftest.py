"""What holds for every test: the same random cases each time, however busy the day."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady",
    derandomize=True,  # the same run, the same result
    deadline=None,  # a machine that does other things is no fault of the program
    suppress_health_check=[HealthCheck.too_slow],  # the same
    print_blob=True,
)
settings.load_profile("steady")
