"""Speed, measured by ratio in one run and never by the clock alone; not part of the tests."""
