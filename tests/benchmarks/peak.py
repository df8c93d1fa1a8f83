"""``python -m tests.benchmarks.peak N``: compare on N specimens in this process, print its peak memory in MB."""

import resource
import sys

from scenarios.load import load_rig
from sim.series.compare import compare

if __name__ == "__main__":
    compare((load_rig("default"),), specimens=int(sys.argv[1]), tunings=1, jobs=1)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
