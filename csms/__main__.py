"""`python -m csms` is the console script, found by its name: `csms` knows nothing above itself."""

from importlib.metadata import entry_points

if __name__ == "__main__":
    (script,) = entry_points(group="console_scripts", name="phaseyard")
    script.load()()
