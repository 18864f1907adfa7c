"""One thread a worker: several workers with a thread for each processor would only wait for one another."""

import os

if "PYTEST_XDIST_WORKER" in os.environ:
    # Read when NumPy is first imported, here and in the programs that tests start.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

    import cv2

    cv2.setNumThreads(1)
